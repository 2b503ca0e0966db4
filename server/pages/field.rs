//! A field of a form, ready to be drawn: what it is called, what was typed, and what there is to say about it.

use crate::{
    trade::{
        kinds::Kind,
        measure::Scale,
        records::{Column, Remark, Shape},
    },
    web::form::Fields,
};

/// A field as the template draws it.
#[derive(Clone, Debug)]
pub struct Field {
    /// Its name in the form.
    pub name: String,
    /// Its label.
    pub label: String,
    /// A word of help.
    pub hint: String,
    /// What was typed.
    pub value: String,
    /// What there is to say about it.
    pub remarks: Vec<Remark>,
    /// What may be chosen: value and words.
    pub choices: Vec<(String, String)>,
    /// Its unit, shown behind it.
    pub unit: String,
    /// Which unit the live line reads it in; empty for none.
    pub milk: String,
    /// The field that is taken off it.
    pub tare: String,
    /// Whether it may stay empty.
    pub optional: bool,
    /// Whether a question about it was answered already, so that the answer goes along when the next one is asked.
    pub answered: bool,
    shape: Shape,
    tiles: bool,
}

impl Field {
    /// A field of a kind's column, with what was typed and the remarks on it.
    #[must_use]
    pub fn of(column: &Column, typed: &Fields, remarks: &[Remark]) -> Field {
        Field::named(column.name, column.label, column.shape, typed, remarks).optional(column.may_be_empty)
    }

    /// A field of any name.
    #[must_use]
    pub fn named(name: &str, label: &str, shape: Shape, typed: &Fields, remarks: &[Remark]) -> Field {
        let choices = match shape {
            Shape::OneOf(words) => words.iter().map(|word| ((*word).to_owned(), (*word).to_owned())).collect(),
            _ => Vec::new(),
        };
        let unit = match shape {
            Shape::Milk => "lb",
            _ => "",
        };
        let hint = match shape {
            Shape::Dipstick => "Inches and gallons, like: 0 in = 0 gal; 4 in = 1.8 gal; 8 in = 3.8 gal",
            Shape::Steps => "Like: cool 40 °F within 120 min of milking end [read]; hold 40 °F until handed out [read]",
            Shape::Limits => {
                "Like: plate count at most 20000 per mL, 2 of 4 notice, 3 of 5 action [read]; Campylobacter none found [memory]"
            }
            Shape::Tests => "Like: plate count, coliforms: 2 a month [read]; TB test: every 12 months [second-hand]",
            Shape::Caps => "Like: 350 quarts a week [read]; 10 cows in milk [read]",
            Shape::Needs => "Like: two ways to reach [chosen]",
            Shape::Part => "Like 1, 1/2 or 1 1/2",
            Shape::Channels => "Like: farm gate, herdshare [chosen]",
            Shape::LabFigure => "As the lab wrote it, like <10 or none detected",
            Shape::Plates => "Like: 232, 244 at 1:100; 33, 28 at 1:1000",
            Shape::Packs => "Like: bale = 45; round bale = 900. A cwt is 100 lb and a ton 2000 lb already",
            Shape::WhatIf => "Like: price of Hay +20 %; worth of an hour = 18",
            Shape::Zone => "Like America/New_York",
            _ => "",
        };
        let tiles = matches!(shape, Shape::OneOf(words) if words.len() <= 4);
        Field {
            name: name.to_owned(),
            label: label.to_owned(),
            hint: hint.to_owned(),
            value: typed.get(name).to_owned(),
            remarks: remarks.iter().filter(|remark| remark.field == name).cloned().collect(),
            choices,
            unit: unit.to_owned(),
            milk: String::new(),
            tare: String::new(),
            optional: false,
            answered: typed.all("sure").any(|sure| sure == name),
            shape,
            tiles,
        }
    }

    /// Whether it may stay empty.
    #[must_use]
    pub fn optional(self, optional: bool) -> Field {
        Field { optional, ..self }
    }

    /// The same field with a word of help.
    #[must_use]
    pub fn hinted(self, hint: impl Into<String>) -> Field {
        Field { hint: hint.into(), ..self }
    }

    /// The same field with things to choose from, as tiles when they are few.
    #[must_use]
    pub fn choosing(self, choices: Vec<(String, String)>, tiles: bool) -> Field {
        Field { choices, tiles, ..self }
    }

    /// The same field in a unit.
    #[must_use]
    pub fn in_unit(self, unit: impl Into<String>) -> Field {
        Field { unit: unit.into(), ..self }
    }

    /// The same field with the live line in other units, less the field named.
    #[must_use]
    pub fn milk(self, milk: &str, tare: &str) -> Field {
        Field { milk: milk.to_owned(), tare: tare.to_owned(), ..self }
    }

    /// Its mark on the page.
    #[must_use]
    pub fn id(&self) -> String {
        format!("f-{}", self.name.replace('.', "-"))
    }

    /// Whether it is drawn as tiles to tap.
    #[must_use]
    pub fn is_tiles(&self) -> bool {
        self.tiles && !self.choices.is_empty()
    }

    /// Whether it holds lot codes, which stand in their own face.
    #[must_use]
    pub fn is_code(&self) -> bool {
        self.shape == Shape::Code
    }

    /// How its tiles stand beside each other.
    #[must_use]
    pub fn tiling(&self) -> &'static str {
        match (self.is_code(), self.choices.len()) {
            (false, 3) => " three",
            (false, count) if count > 3 => " four",
            _ => "",
        }
    }

    /// Whether it is a list to choose from.
    #[must_use]
    pub fn is_choice(&self) -> bool {
        !self.choices.is_empty()
    }

    /// Whether it is a long note.
    #[must_use]
    pub fn is_long(&self) -> bool {
        matches!(self.shape, Shape::Note(_) | Shape::Steps | Shape::Limits | Shape::Tests | Shape::Caps | Shape::Channels | Shape::Needs)
    }

    /// Whether it is counted up and down.
    #[must_use]
    pub fn is_stepper(&self) -> bool {
        matches!(self.shape, Shape::Count(0, 999))
    }

    /// The kind of input.
    #[must_use]
    pub fn input_type(&self) -> &'static str {
        match self.shape {
            Shape::Day => "date",
            Shape::Moment => "datetime-local",
            _ => "text",
        }
    }

    /// Which pad a phone shows: numbers for a number.
    #[must_use]
    pub fn input_mode(&self) -> &'static str {
        match self.shape {
            Shape::Count(..) => "numeric",
            Shape::Figure | Shape::Money | Shape::Milk | Shape::Heat => "decimal",
            _ => "text",
        }
    }
}

/// A form with its own cells first: a set of rules says how sure it is under the name that answers to questions go by too.
#[must_use]
pub fn told_apart(kind: &Kind, Fields(mut typed): Fields) -> Fields {
    typed.sort_by_key(|(name, value)| name == "sure" && kind.place_of(value).is_some());
    Fields(typed)
}

/// What is said under a field of the farm's own record.
const OF_THE_FARM: [(&str, &str); 4] = [
    ("insurer", "Stands on a loss sheet, and is told when milk is called back"),
    ("warm_at", "Common practice, not law. Left empty, it is 45 °F; a stricter step of your rules for staying cold counts first"),
    ("warm_hours", "Common practice, not law. Left empty, it is 2 hours"),
    (
        "lid_page",
        "With yes, anybody may open /jar without signing in and ask by a code on a lid: called back, held, or nothing known. It names nobody. With no, or left empty, there is no such page",
    ),
];

/// What stands under the note of a household: what is not written down cannot be read by others.
const NEVER_HEALTH: &str = "Never about anybody’s health";

fn is_of_a_household(kind: &Kind) -> bool {
    matches!(kind.name, "people" | "shares" | "pauses" | "agreements" | "empties")
}

/// Every field of a kind; keys are chosen from what there is.
#[must_use]
pub fn fields_of(
    kind: &'static Kind,
    typed: &Fields,
    remarks: &[Remark],
    scale: Scale,
    keys: &impl Fn(&'static str) -> Vec<(String, String)>,
) -> Vec<Field> {
    kind.columns
        .iter()
        .map(|column| {
            let field = Field::of(column, typed, remarks);
            let field = if column.name == "note" && is_of_a_household(kind) { field.hinted(NEVER_HEALTH) } else { field };
            let of_the_farm = OF_THE_FARM.iter().find(|(name, _)| kind.name == "farm" && *name == column.name);
            let field = of_the_farm.map_or(field.clone(), |(_, says)| field.hinted(*says));
            match column.shape {
                Shape::Key(target) => field.choosing(keys(target), false),
                Shape::Heat => field.in_unit(scale.to_string()),
                Shape::Money => field.in_unit("$"),
                _ => field,
            }
        })
        .collect()
}
