//! Text in a picture: how wide it will be, how it is broken into lines, how it is made harmless.
//! Idea: a drawing is laid out before any font is known, so widths are those of a wide face and never too small.
//! Source: advance widths of common wide sans-serif faces at 1 em (from memory), rounded up.
//! Promise: whatever a sheet's title holds, it comes out as text. Not here: ligatures, writing from right to left.

/// Size of all text, in units of the picture: no smaller than 12 px on a phone.
pub(crate) const SIZE: f64 = 12.0;

/// From one line of a label to the next.
pub(crate) const LINE: f64 = 14.0;

/// How wide a text is at most.
pub(crate) fn width(text: &str) -> f64 {
    text.chars().map(em).sum::<f64>() * SIZE
}

/// How wide a character is at most, in em.
fn em(character: char) -> f64 {
    match character {
        'i' | 'j' | 'l' | '\'' | '|' | ' ' | '.' | ',' | ':' | ';' | '!' | 'I' => 0.35,
        'f' | 'r' | 't' | '(' | ')' | '-' | '/' | '"' | '·' => 0.43,
        'm' | 'w' | 'M' | 'W' | '@' | '%' => 1.0,
        'A'..='Z' => 0.8,
        ' '..='~' => 0.64,
        '\u{a1}'..='\u{17f}' => 0.7,
        '…' => 1.0,
        _ => 1.1,
    }
}

/// The text, cut behind with an ellipsis where it would be too wide.
pub(crate) fn fit(text: &str, widest: f64) -> String {
    if width(text) <= widest {
        return text.to_owned();
    }
    let room = widest - width("…");
    let mut kept = String::new();
    let mut used = 0.0;
    for character in text.chars() {
        used += em(character) * SIZE;
        if used > room {
            break;
        }
        kept.push(character);
    }
    format!("{}…", kept.trim_end())
}

/// The text in lines of at most that width; what does not fit into so many lines ends in an ellipsis.
pub(crate) fn wrap(text: &str, widest: f64, most: usize) -> Vec<String> {
    let mut lines: Vec<String> = Vec::new();
    let mut open = String::new();
    for word in text.split_whitespace() {
        let longer = if open.is_empty() { word.to_owned() } else { format!("{open} {word}") };
        // The last line takes all that is left and is cut.
        if width(&longer) <= widest || open.is_empty() || lines.len() + 1 == most {
            open = longer;
        } else {
            lines.push(std::mem::replace(&mut open, word.to_owned()));
        }
    }
    if !open.is_empty() {
        lines.push(open);
    }
    lines.iter().map(|line| fit(line, widest)).collect()
}

/// Text as it may stand in an element or an attribute of XML; what XML cannot hold is left out.
pub(crate) fn escape(text: &str) -> String {
    let mut safe = String::with_capacity(text.len());
    for character in text.chars() {
        match character {
            '&' => safe.push_str("&amp;"),
            '<' => safe.push_str("&lt;"),
            '>' => safe.push_str("&gt;"),
            '"' => safe.push_str("&quot;"),
            '\'' => safe.push_str("&#39;"),
            '\t' | '\n' | '\r' => safe.push(' '),
            '\u{0}'..='\u{1f}' | '\u{7f}'..='\u{9f}' | '\u{fffe}' | '\u{ffff}' => {}
            _ => safe.push(character),
        }
    }
    safe
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn law_no_line_is_wider_than_asked_and_no_more_than_asked() {
        for text in ["", "a", "plug of the engine's loom at the panel", "Donaudampfschifffahrtsgesellschaft x", "  "] {
            for widest in [30.0, 60.0, 150.0] {
                let lines = wrap(text, widest, 2);
                assert!(lines.len() <= 2, "{lines:?}");
                assert!(lines.iter().all(|line| width(line) <= widest), "{lines:?} at {widest}");
            }
        }
        assert_eq!(wrap("starter relay", 200.0, 2), ["starter relay"]);
    }

    #[test]
    fn law_nothing_that_xml_reads_is_left() {
        let safe = escape("<script>\"&'\u{0}\u{8}</script>\n");
        assert_eq!(safe, "&lt;script&gt;&quot;&amp;&#39;&lt;/script&gt; ");
    }
}
