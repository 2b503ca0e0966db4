//! A fridge found warm, on one sheet: what stood in it, how long and how warm it may have been, what went and what is lost. It is
//! what an insurer asks for. And the words for the households of a short week: fewer jars, no cause and no blame.

use super::{
    figures::{Cell, Holds, Part, Sheet, Table},
    jars::Jars,
    loss::Loss,
    recipients::or,
    warm::{Held, WarmFridge},
    when::{Day, Moment, Zone, day_shown},
};

/// All that is known of a fridge found warm.
#[derive(Clone, Debug)]
pub struct WarmSheet {
    /// The farm's name.
    pub farm: String,
    /// The fridge.
    pub fridge: WarmFridge,
    /// The thermometer the warmest jar was read with.
    pub thermometer: String,
    /// A note.
    pub note: String,
    /// Who wrote it down.
    pub who: String,
    /// When it was written down.
    pub written: Moment,
    /// The farm's house rule.
    pub rule: Held,
    /// What is lost.
    pub loss: Loss,
    /// Jars of any lot that went between the last time it was known cold and when it was found, by lot.
    pub went: Vec<(String, Jars)>,
    /// The insurer; nothing for whoever may not see it.
    pub insurer: Option<String>,
    /// When it is looked at.
    pub now: Moment,
    /// The farm's clock.
    pub zone: Zone,
}

impl WarmSheet {
    /// The whole sheet.
    #[must_use]
    pub fn sheet(&self) -> Sheet {
        let mut parts = vec![
            Part::Loud("Milk that stood warm cannot be judged by its look, its smell or its taste.".to_owned()),
            Part::Words(self.rule.spoken()),
            Part::Table(self.loss.table(self.zone)),
            Part::Words(
                "Which fridge a lot stood in is not written down with the lot: these are the lots ticked when it was found.".to_owned(),
            ),
            Part::Heading("Handed out (distribution) while it may have been warm".to_owned()),
            Part::Table(self.went_table()),
        ];
        if self.fridge.last_cold.is_none() {
            parts.push(Part::Words(
                "Nobody knows when it was last cold, so this is everything of the 24 hours before it was found.".to_owned(),
            ));
        }
        Sheet {
            name: format!("warm-fridge-{}", self.fridge.number),
            title: format!("{} found warm", self.fridge.fridge),
            under: "Loss sheet".to_owned(),
            facts: self.facts(),
            parts,
        }
    }

    fn facts(&self) -> Vec<(String, String)> {
        let WarmFridge { fridge, last_cold, found, warmest, .. } = &self.fridge;
        let cold = last_cold.map_or_else(|| "not known".to_owned(), |at| self.zone.in_full(at));
        let warmest = warmest.map_or_else(|| "not read".to_owned(), |read| read.to_string());
        let mut facts = vec![
            ("Fridge", fridge.clone()),
            ("Last known cold", cold),
            ("Found warm", self.zone.in_full(*found)),
            ("May have been warm for", self.fridge.how_long()),
            ("Warmest jar", warmest),
            ("Thermometer", or(&self.thermometer, "not written down")),
            ("Thrown out, as counted", self.loss.thrown_out().to_string()),
            ("Left of these lots, by the book", self.loss.left().to_string()),
        ];
        if self.loss.with_money {
            facts.push(("Value of what was thrown out", self.loss.told()));
        }
        facts.extend(self.insurer.as_ref().map(|insurer| ("Insurer", or(insurer, "not written down; write it on the farm's record"))));
        if !self.note.is_empty() {
            facts.push(("Note", self.note.clone()));
        }
        facts.push(("Written down", format!("{}, by {}", self.zone.in_full(self.written), self.who)));
        facts.push(("Farm", self.farm.clone()));
        facts.push(("Made", self.zone.in_full(self.now)));
        facts.into_iter().map(|(name, says)| (name.to_owned(), says)).collect()
    }

    fn went_table(&self) -> Table {
        let mut table =
            Table::new("handed_out", "Jars that went in that time, by lot", &[("Lot", Holds::Codes, 3), ("Jars", Holds::Words, 6)]);
        "No jar went in that time.".clone_into(&mut table.when_empty);
        let row = |(code, jars): &(String, Jars)| vec![Cell::opening(code, format!("/lots/{code}")), Cell::says(jars.to_string())];
        table.rows = self.went.iter().map(row).collect();
        table
    }
}

/// What to say to the households of a day with fewer jars: that there are fewer, and when each will hear. It names no cause, nobody
/// and no other household.
#[must_use]
pub fn short_week(farm: &str, phone: &str, day: Day) -> String {
    let back = if phone.is_empty() { String::new() } else { format!(" Questions: {phone}.") };
    format!(
        "{farm}: a short week. Fewer jars than usual are ready on {}. We share out what there is, and tell you how many are yours \
         before you come.{back}",
        day_shown(day)
    )
}
