//! `sheet = 1`, `[machine]`, `[place.NAME]` and `[control.NAME]`: what the rest of a sheet refers to.

use quantity::Dimension;
use toml::de::DeValue;

use super::findings::{Findings, Said};
use super::value::Limit;
use super::walk::{Block, check_name};
use super::{Control, Named, Place};

/// `sheet = 1`: the edition of the sheet's language.
pub(super) fn edition(top: &mut Block<'_>, findings: &mut Findings<'_>) {
    const ALLOWED: &str = "1, the only edition there is";
    let Some(entry) = top.take("sheet") else {
        top.missing("sheet", ALLOWED, "begin with the line `sheet = 1`", findings);
        return;
    };
    let DeValue::Integer(number) = entry.value else {
        top.wrong_type(&entry, ALLOWED, Some("write `sheet = 1`".to_owned()), findings);
        return;
    };
    if number.as_str() != "1" {
        findings.problem(
            &entry.span,
            Said {
                message: format!("edition {} of the sheet is not known", findings.written(&entry.span)),
                found: findings.written(&entry.span),
                allowed: ALLOWED.to_owned(),
                hint: Some("write `sheet = 1`".to_owned()),
            },
        );
    }
}

/// What `[machine]` says.
#[derive(Default)]
pub(super) struct Heading {
    pub id: String,
    pub title: String,
    pub reference: Option<Named>,
    pub ground: Option<Named>,
}

/// `[machine]`.
pub(super) fn heading(top: &mut Block<'_>, findings: &mut Findings<'_>) -> Heading {
    const EXAMPLE: &str = "[machine] with id = \"curlew\" under it";
    let Some(entry) = top.take("machine") else {
        top.missing("machine", EXAMPLE, "write `[machine]` and under it `id = \"curlew\"`", findings);
        return Heading::default();
    };
    let Some(mut block) = top.as_table(&entry, EXAMPLE, findings) else {
        return Heading::default();
    };
    block.of = "[machine]".to_owned();
    let asked = block.take("id");
    let id = match asked {
        Some(entry) => block.as_text(&entry, "a name of letters, digits, - and _", findings),
        None => {
            block.missing("id", "a name of letters, digits, - and _", "write `id = \"curlew\"`", findings);
            None
        }
    };
    if let Some(id) = &id {
        check_name("machine", id, findings);
    }
    let id = id.map_or_else(String::new, |named| named.name);
    let title = block.text("title", findings);
    let heading = Heading {
        title: title.map_or_else(|| id.clone(), |named| named.name),
        id,
        reference: block.text("reference", findings),
        ground: block.text("ground", findings),
    };
    block.finish(findings);
    heading
}

/// `[place.NAME]`.
pub(super) fn places(top: &mut Block<'_>, findings: &mut Findings<'_>) -> Vec<Place> {
    let mut places = Vec::new();
    for (name, mut block) in top.sections("place", findings) {
        let title = title(&mut block, &name, findings);
        let access = block.quantity("access", Dimension::Time, Limit::NotNegative, findings);
        places.push(Place {
            title,
            access_minutes: access.unwrap_or(0.0) / 60.0,
            caution: block.text_or_empty("caution", findings),
            name,
        });
        block.finish(findings);
    }
    places
}

/// `[control.NAME]`; positions that cannot be read leave the control without any.
pub(super) fn controls(top: &mut Block<'_>, findings: &mut Findings<'_>) -> Vec<Control> {
    let mut controls = Vec::new();
    for (name, mut block) in top.sections("control", findings) {
        let title = title(&mut block, &name, findings);
        let words = unique_names("positions", "position", "[\"off\", \"on\"]", &mut block, findings);
        controls.push(Control { title, positions: words.into_iter().map(|word| word.name).collect(), name });
        block.finish(findings);
    }
    controls
}

/// A required list of names, at least one, each once.
pub(super) fn unique_names(
    key: &str,
    what: &str,
    example: &str,
    block: &mut Block<'_>,
    findings: &mut Findings<'_>,
) -> Vec<Named> {
    let allowed = format!("a list of at least one name, as in {example}");
    let hint = format!("write `{key} = {example}`");
    let Some(entry) = block.take(key) else {
        block.missing(key, &allowed, &hint, findings);
        return Vec::new();
    };
    let words = block.as_texts(&entry, findings);
    if matches!(entry.value, DeValue::Array(list) if list.is_empty()) {
        findings.problem(
            &entry.span,
            Said {
                message: format!("`{key}` of {} is empty", block.of),
                found: "[]".to_owned(),
                allowed,
                hint: Some(hint),
            },
        );
    }
    let mut unique: Vec<Named> = Vec::new();
    for word in words {
        check_name(what, &word, findings);
        if unique.iter().any(|other| other.name == word.name) {
            findings.problem(
                &word.span,
                Said {
                    message: format!("{what} `{}` of {} is given twice", word.name, block.of),
                    found: word.name,
                    allowed: format!("each {what} once"),
                    hint: Some("delete one of them, or rename it".to_owned()),
                },
            );
            continue;
        }
        unique.push(word);
    }
    unique
}

/// `title`, or the name with blanks for hyphens.
pub(super) fn title(block: &mut Block<'_>, name: &Named, findings: &mut Findings<'_>) -> String {
    let written = block.text("title", findings);
    written.map_or_else(|| name.name.replace(['-', '_'], " "), |named| named.name)
}
