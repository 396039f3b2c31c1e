//! The catalogue of worksheets: one file a worksheet, one line here.

mod battery;
mod charge;
mod cold;
mod crank;
mod drain;
mod drop;
mod shunt;
mod wear;
mod what_if;

use crate::worksheet::Worksheet;

/// Every worksheet, in the order in which the documentation lists them.
pub static CATALOGUE: &[&Worksheet] = &[
    &cold::COLD,
    &drop::DROP,
    &crank::CRANK,
    &drain::DRAIN,
    &charge::CHARGE,
    &wear::WEAR,
    &battery::BATTERY,
    &shunt::SHUNT,
    &what_if::WHAT_IF,
];

/// The worksheet of that name.
pub fn find(name: &str) -> Option<&'static Worksheet> {
    CATALOGUE.iter().copied().find(|worksheet| worksheet.name == name)
}

#[cfg(test)]
pub(crate) mod tests {
    use machine::Machine;

    use super::*;
    use crate::answer::{Answer, Cell};
    use crate::given::Refused;

    fn written(pairs: &[(&str, &str)], name: &str) -> Vec<String> {
        pairs.iter().filter(|(known, _)| *known == name).map(|(_, text)| (*text).to_owned()).collect()
    }

    /// The answer to inputs written so, without a machine.
    pub fn worked(worksheet: &'static Worksheet, pairs: &[(&str, &str)]) -> Answer {
        let answered = worksheet.answer(None, |name| written(pairs, name));
        answered.unwrap_or_else(|refused| panic!("{}: {refused}", worksheet.name)).1
    }

    /// The answer to inputs written so, for a machine.
    pub fn worked_on(worksheet: &'static Worksheet, machine: &Machine, pairs: &[(&str, &str)]) -> Answer {
        let answered = worksheet.answer(Some(machine), |name| written(pairs, name));
        answered.unwrap_or_else(|refused| panic!("{}: {refused}", worksheet.name)).1
    }

    /// Why inputs written so are refused, without a machine.
    pub fn refused(worksheet: &'static Worksheet, pairs: &[(&str, &str)]) -> Refused {
        worksheet.answer(None, |name| written(pairs, name)).expect_err("it is not refused")
    }

    /// A figure of an answer.
    pub fn number(answer: &Answer, name: &str) -> f64 {
        match answer.figures.iter().find(|figure| figure.name == name).map(|figure| &figure.value) {
            Some(Cell::Number(number, _)) => *number,
            other => panic!("{name} is {other:?}"),
        }
    }

    /// The fallbacks are within the limits, and each limit is held.
    #[test]
    fn law_each_worksheet_refuses_what_cannot_be() {
        for worksheet in CATALOGUE {
            for input in worksheet.inputs {
                assert!(input.doc.ends_with('.'), "{} {}", worksheet.name, input.name);
                let crate::worksheet::Want::Quantity(dimension, low, high) = input.want else { continue };
                assert!(low < high);
                let too_much = quantity::show_with(high + high.abs().max(1.0), dimension, 9);
                if worksheet.sheet != crate::worksheet::Sheet::Needed {
                    for text in [too_much.as_str(), "", "much", "1 parsec"] {
                        let refused = refused(worksheet, &[(input.name, text)]);
                        assert_eq!(refused.input(), Some(input.name), "{} {text}: {refused}", worksheet.name);
                        assert!(refused.hint().is_some());
                    }
                }
            }
        }
    }
}
