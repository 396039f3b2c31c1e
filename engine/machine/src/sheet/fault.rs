//! `[fault.NAME]`, faults that only the sheet's author knows, and `[odds]`, factors on those of the catalogue.

use quantity::Dimension;
use toml::de::DeValue;

use super::findings::{Findings, Said, shortened};
use super::machine::title;
use super::names::Names;
use super::near::nearest;
use super::value::{Limit, quantity, value};
use super::walk::{Block, Entry, item_of, scalar};
use super::{Named, SheetFault};
use crate::kind::spec::{Effect, Mode, Want};

/// All faults of the sheet.
pub(super) fn faults(top: &mut Block<'_>, names: &Names, findings: &mut Findings<'_>) -> Vec<SheetFault> {
    let mut faults = Vec::new();
    for (name, mut block) in top.sections("fault", findings) {
        let title = title(&mut block, &name, findings);
        let odds = block.number("odds", 0.0, 100.0, findings).unwrap_or(1.0);
        let set = settings(&mut block, names, findings);
        let open = block.texts("open", findings).unwrap_or_default();
        for named in &open {
            names.opened(named, findings);
        }
        let bridge = bridges(&mut block, names, findings);
        let changes = ["set", "open", "bridge"].iter().any(|key| block.was_given(key));
        if !changes {
            block.missing(
                "set",
                "at least one of set, open, bridge",
                "write `open = [\"part\"]`, `set = { \"part.field\" = \"value\" }` or `bridge = [[\"node\", \"node\", \"0.05 ohm\"]]`",
                findings,
            );
        }
        let attended = minutes("minutes", &mut block, findings).unwrap_or(0.0);
        let elapsed = minutes("elapsed", &mut block, findings);
        faults.push(SheetFault {
            title,
            odds,
            set,
            open,
            bridge,
            remedy: block.text_or_empty("remedy", findings),
            minutes: attended,
            elapsed: elapsed.map_or(attended, |elapsed| elapsed.max(attended)),
            name,
        });
        block.finish(findings);
    }
    faults
}

/// Minutes, bare or with a unit: `minutes = 10`, `elapsed = "2 h"`.
fn minutes(key: &str, block: &mut Block<'_>, findings: &mut Findings<'_>) -> Option<f64> {
    let entry = block.take(key)?;
    match entry.value {
        DeValue::String(text) => match quantity(text, Dimension::Time, Limit::NotNegative) {
            Ok(seconds) => Some(seconds / 60.0),
            Err(wrong) => {
                block.wrong(&entry, wrong, findings);
                None
            }
        },
        _ => block.as_number(&entry, 0.0, 1e5, findings),
    }
}

/// What a table of settings looks like.
pub(super) const SETTINGS: &str = "{ \"part.field\" = \"value\" }";

/// `set = { "part.field" = "value" }`.
fn settings(block: &mut Block<'_>, names: &Names, findings: &mut Findings<'_>) -> Vec<(usize, usize, f64)> {
    let Some(mut table) = block.table("set", SETTINGS, findings) else {
        return Vec::new();
    };
    let mut settings = Vec::new();
    for entry in table.rest() {
        // A key without quotes, `battery.voltage = "9 V"`, is a table in a table.
        if let DeValue::Table(fields) = entry.value {
            for mut field in super::walk::entries(fields) {
                field.key.name = format!("{}.{}", entry.key.name, field.key.name);
                settings.extend(setting(&field, &table, names, findings));
            }
        } else {
            settings.extend(setting(&entry, &table, names, findings));
        }
    }
    settings
}

/// One entry `"part.field" = "value"`: part, field, SI value.
pub(super) fn setting(
    entry: &Entry<'_>,
    table: &Block<'_>,
    names: &Names,
    findings: &mut Findings<'_>,
) -> Option<(usize, usize, f64)> {
    let (part, index) = field_of(&entry.key, names, findings)?;
    let kind = names.parts[part].kind?;
    let wanted = &kind.fields[index];
    let text = match (entry.value, wanted.want) {
        (DeValue::Boolean(flag), Want::Flag) => flag.to_string(),
        _ => match scalar(entry, findings) {
            Some(text) => text,
            None => {
                table.wrong_type(entry, "a value as the part itself would have it", None, findings);
                return None;
            }
        },
    };
    match value(kind, wanted, &text) {
        Ok(value) => Some((part, index, value)),
        Err(wrong) => {
            table.wrong(entry, wrong, findings);
            None
        }
    }
}

/// The part and the field that `part.field` names.
pub(super) fn field_of(named: &Named, names: &Names, findings: &mut Findings<'_>) -> Option<(usize, usize)> {
    let Some((part, field)) = named.name.split_once('.') else {
        findings.problem(
            &named.span,
            Said {
                message: format!("`{}` is not a part's field", shortened(&named.name)),
                found: shortened(&named.name),
                allowed: "\"part.field\" in quotes".to_owned(),
                hint: Some("write it as in \"battery.capacity\"".to_owned()),
            },
        );
        return None;
    };
    let called = |name: &str| Named { name: name.to_owned(), span: named.span.clone() };
    let part = names.part(&called(part), findings)?;
    let kind = names.parts[part].kind?;
    let index = kind.fields.iter().position(|known| known.name == field);
    if index.is_none() {
        let fields = kind.fields.iter().map(|known| known.name);
        findings.unknown("field", &called(field), &format!("a field of kind {}", kind.name), fields);
    }
    index.map(|index| (part, index))
}

const BRIDGE: &str =
    "[\"node\", \"node\", \"0.05 ohm\"] or { from = \"node\", to = \"node\", resistance = \"0.05 ohm\" }";

/// `bridge = [["node", "node", "0.05 ohm"]]`, or one of these alone, or as tables.
fn bridges(block: &mut Block<'_>, names: &Names, findings: &mut Findings<'_>) -> Vec<(Named, Named, f64)> {
    let Some(entry) = block.take("bridge") else {
        return Vec::new();
    };
    let items: Vec<Entry<'_>> = match entry.value {
        DeValue::Array(list) if !list.is_empty() => {
            let flat = list.iter().all(|item| matches!(item.get_ref(), DeValue::String(_)));
            if flat { vec![entry.clone()] } else { list.iter().map(|item| item_of(&entry, item)).collect() }
        }
        _ => vec![entry.clone()],
    };
    let mut bridges = Vec::new();
    for item in items {
        bridges.extend(bridge(&item, block, names, findings));
    }
    bridges
}

fn bridge(
    entry: &Entry<'_>,
    block: &Block<'_>,
    names: &Names,
    findings: &mut Findings<'_>,
) -> Option<(Named, Named, f64)> {
    let (from, to, ohms) = match entry.value {
        DeValue::Array(list) if list.len() == 3 => {
            let ends: Vec<Option<Named>> = list
                .iter()
                .take(2)
                .map(|item| block.as_text(&item_of(entry, item), "a node's name in quotes", findings))
                .collect();
            let [from, to] = <[Option<Named>; 2]>::try_from(ends).ok()?;
            let ohms = list.get(2).and_then(|item| resistance(&item_of(entry, item), block, findings));
            (from, to, ohms)
        }
        DeValue::Table(_) => {
            let mut table = block.as_table(entry, BRIDGE, findings)?;
            for key in ["from", "to", "resistance"] {
                if !table.has(key) {
                    table.missing(key, BRIDGE, "write all three", findings);
                }
            }
            let ends = (table.text("from", findings), table.text("to", findings));
            let ohms = table.take("resistance");
            let ohms = ohms.and_then(|entry| resistance(&entry, &table, findings));
            table.finish(findings);
            (ends.0, ends.1, ohms)
        }
        _ => {
            findings.problem(
                &entry.span,
                Said {
                    message: format!("`bridge` of {} is not two nodes and a resistance", block.of),
                    found: findings.written(&entry.span),
                    allowed: BRIDGE.to_owned(),
                    hint: Some("write `bridge = [[\"battery.plus\", \"battery.minus\", \"0.05 ohm\"]]`".to_owned()),
                },
            );
            return None;
        }
    };
    for node in [&from, &to].into_iter().flatten() {
        names.node(node, findings);
    }
    Some((from?, to?, ohms?))
}

fn resistance(entry: &Entry<'_>, block: &Block<'_>, findings: &mut Findings<'_>) -> Option<f64> {
    let Some(text) = scalar(entry, findings) else {
        block.wrong_type(entry, BRIDGE, None, findings);
        return None;
    };
    quantity(&text, Dimension::Resistance, Limit::NotNegative).map_err(|wrong| block.wrong(entry, wrong, findings)).ok()
}

/// `[odds]` with `"part:mode" = 2.5`.
pub(super) fn odds(top: &mut Block<'_>, names: &Names, findings: &mut Findings<'_>) -> Vec<(Named, f64)> {
    let Some(mut table) = top.table("odds", "[odds] with \"part:mode\" = 2.5 under it", findings) else {
        return Vec::new();
    };
    table.of = "[odds]".to_owned();
    let mut odds = Vec::new();
    for entry in table.rest() {
        let factor = table.as_number(&entry, 0.0, f64::INFINITY, findings);
        check_mode(&entry.key, names, findings);
        odds.extend(factor.map(|factor| (entry.key, factor)));
    }
    odds
}

fn check_mode(named: &Named, names: &Names, findings: &mut Findings<'_>) {
    let Some((part, mode)) = named.name.split_once(':') else {
        findings.problem(
            &named.span,
            Said {
                message: format!("`{}` is not a fault of the catalogue", shortened(&named.name)),
                found: shortened(&named.name),
                allowed: "\"part:mode\" in quotes".to_owned(),
                hint: Some("write `\"battery:flat\" = 2.5`".to_owned()),
            },
        );
        return;
    };
    let part_named = Named { name: part.to_owned(), span: named.span.clone() };
    let known_part = names.part(&part_named, findings).map(|index| &names.parts[index]);
    let Some((known_part, kind)) = known_part.and_then(|part| Some((part, part.kind?))) else {
        return;
    };
    // A mode that is one fault for each way of a plug, or each wire of a loom, has that name behind it.
    let spread = |known: &Mode| {
        let each = mode.strip_prefix(known.name).and_then(|rest| rest.strip_prefix('-')).unwrap_or_default();
        match known.effects {
            [Effect::ToLoom(_)] => names.parts.iter().any(|part| part.name == each),
            [Effect::Open("each")] => known_part.ways.iter().any(|way| way.name == each),
            _ => false,
        }
    };
    if kind.modes.iter().any(|known| known.name == mode || spread(known)) {
        return;
    }
    let modes: Vec<&str> = kind.modes.iter().map(|known| known.name).collect();
    let near = nearest(mode, modes.iter().copied());
    findings.problem(
        &named.span,
        Said {
            message: format!("a {} has no fault `{}`", kind.name, shortened(mode)),
            found: shortened(&named.name),
            allowed: format!("a fault of kind {}: {}", kind.name, modes.join(", ")),
            hint: Some(
                near.map_or_else(|| "name one of these".to_owned(), |near| format!("did you mean \"{part}:{near}\"?")),
            ),
        },
    );
}
