//! Where the milk of a span went: out of the cows, into jars, and from there to somebody or nobody.
//!
//! It gives a cost the three amounts of milk to divide by, and shows what became of the rest, so that waste and own use
//! have a name. All amounts are half-gallons, exact until they are shown.

use super::{
    costs::Milk,
    figures::{Cell, Holds, Table},
    measure::fixed,
    wear::Span,
};
use rust_decimal::Decimal;

/// One way milk comes or goes.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Flow {
    /// Out of the cows, wherever it went then.
    Produced,
    /// From the pail before she joined the can: colostrum and the first milk after calving, wherever it went.
    Colostrum,
    /// From the pail to a calf.
    Calf,
    /// From the pail into the house.
    House,
    /// From the pail down the drain.
    ThrownOut,
    /// Into jars, from milkings.
    Filled,
    /// Into jars, from the jars of other lots.
    FromLots,
    /// In jars, to a person.
    HandedOut,
    /// In jars, back from a person.
    Returned,
    /// In jars, to the house.
    JarsHouse,
    /// In jars, to a calf.
    JarsCalf,
    /// In jars, into other lots.
    IntoLots,
    /// In jars, for the lab or kept on the shelf.
    Samples,
    /// In jars that broke.
    Broken,
    /// In jars, down the drain.
    JarsThrownOut,
}

impl Flow {
    /// Every flow, in the order they are listed.
    pub const ALL: [Flow; 15] = [
        Flow::Produced,
        Flow::Colostrum,
        Flow::Calf,
        Flow::House,
        Flow::ThrownOut,
        Flow::Filled,
        Flow::FromLots,
        Flow::HandedOut,
        Flow::Returned,
        Flow::JarsHouse,
        Flow::JarsCalf,
        Flow::IntoLots,
        Flow::Samples,
        Flow::Broken,
        Flow::JarsThrownOut,
    ];

    /// Its word in an address.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Flow::Produced => "produced",
            Flow::Colostrum => "colostrum",
            Flow::Calf => "calf",
            Flow::House => "house",
            Flow::ThrownOut => "thrown-out",
            Flow::Filled => "filled",
            Flow::FromLots => "from-lots",
            Flow::HandedOut => "handed-out",
            Flow::Returned => "returned",
            Flow::JarsHouse => "jars-house",
            Flow::JarsCalf => "jars-calf",
            Flow::IntoLots => "into-lots",
            Flow::Samples => "samples",
            Flow::Broken => "broken",
            Flow::JarsThrownOut => "jars-thrown-out",
        }
    }

    /// The flow with this word.
    #[must_use]
    pub fn parse(word: &str) -> Option<Flow> {
        Flow::ALL.into_iter().find(|flow| flow.word() == word)
    }

    /// What it is called on the page.
    #[must_use]
    pub const fn said(self) -> &'static str {
        match self {
            Flow::Produced => "Out of the cows",
            Flow::Colostrum => "Colostrum, before she joined the can",
            Flow::Calf | Flow::JarsCalf => "To calves",
            Flow::House | Flow::JarsHouse => "To the household",
            Flow::ThrownOut => "Kept back or thrown out",
            Flow::JarsThrownOut => "Thrown out",
            Flow::Filled => "Filled into jars",
            Flow::FromLots => "Filled from other lots",
            Flow::HandedOut => "Handed out",
            Flow::Returned => "Brought back",
            Flow::IntoLots => "Made into other lots",
            Flow::Samples => "Samples and shelf jars",
            Flow::Broken => "Broken",
        }
    }

    /// What it does to the jars on the shelf: one more, one fewer, or nothing.
    #[must_use]
    pub fn to_the_shelf(self) -> Decimal {
        match self {
            Flow::Filled | Flow::FromLots | Flow::Returned => Decimal::ONE,
            own if GONE.contains(&own) => Decimal::NEGATIVE_ONE,
            _ => Decimal::ZERO,
        }
    }
}

/// The milk of one span, in half-gallons.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Went {
    /// How much went each way; what is not listed was nothing.
    pub flows: Vec<(Flow, Decimal)>,
    /// On hand by the book when the span began.
    pub on_hand_before: Decimal,
}

impl Went {
    /// How much went this way.
    #[must_use]
    pub fn of(&self, flow: Flow) -> Decimal {
        self.flows.iter().filter(|(own, _)| *own == flow).map(|(_, amount)| *amount).sum()
    }

    /// So much more goes this way, or less.
    pub(super) fn add(&mut self, flow: Flow, more: Decimal) {
        match self.flows.iter_mut().find(|(own, _)| *own == flow) {
            Some((_, amount)) => *amount += more,
            None => self.flows.push((flow, more)),
        }
    }

    /// Takes what is wanted from what went this way, as far as it reaches above what is kept, and says how much that was.
    pub(super) fn take(&mut self, flow: Flow, wanted: Decimal, kept: Decimal) -> Decimal {
        let taken = wanted.min(self.of(flow) - kept).max(Decimal::ZERO);
        self.add(flow, -taken);
        taken
    }

    fn all(&self, flows: &[Flow]) -> Decimal {
        flows.iter().map(|flow| self.of(*flow)).sum()
    }

    /// The three amounts a cost is divided by.
    #[must_use]
    pub fn milk(&self) -> Milk {
        Milk { produced: self.of(Flow::Produced), fit: self.of(Flow::Filled), reached: self.of(Flow::HandedOut) - self.of(Flow::Returned) }
    }

    /// What came out of the cows and is written down nowhere after.
    #[must_use]
    pub fn unexplained(&self) -> Decimal {
        self.of(Flow::Produced) - self.all(&[Flow::Filled, Flow::Colostrum, Flow::Calf, Flow::House, Flow::ThrownOut])
    }

    /// On hand by the book when the span ended.
    #[must_use]
    pub fn on_hand_after(&self) -> Decimal {
        self.on_hand_before + self.flows.iter().map(|(flow, amount)| flow.to_the_shelf() * amount).sum::<Decimal>()
    }
}

/// The ways jars leave.
const GONE: [Flow; 7] =
    [Flow::HandedOut, Flow::JarsHouse, Flow::JarsCalf, Flow::IntoLots, Flow::Samples, Flow::Broken, Flow::JarsThrownOut];

/// The address that lists what a flow is made of.
#[must_use]
pub fn address(flow: Flow, span: Span) -> String {
    format!("/costs/milk/{}?from={}&to={}", flow.word(), span.from, span.to)
}

/// The tables of where the milk went: first the pails, then the jars.
#[must_use]
pub fn tables(went: &Went, span: Span) -> [Table; 2] {
    let columns: [(&str, Holds, u8); 3] =
        [("Milk", Holds::Words, 4), ("Half-gallons", Holds::Figures, 2), ("Of a hundred", Holds::Figures, 2)];
    let produced = went.of(Flow::Produced);
    let mut pails = Table::new("produced", "What came out of the cows", &columns);
    pails.rows = [Flow::Filled, Flow::Colostrum, Flow::Calf, Flow::House, Flow::ThrownOut]
        .map(|flow| row(flow.said(), went.of(flow), produced, Some(address(flow, span))))
        .to_vec();
    pails.rows.push(row("Unexplained: spilled, left in the can, or not written", went.unexplained(), produced, None));
    pails.total = Some(row("Out of the cows", produced, produced, Some(address(Flow::Produced, span))));

    let came = went.on_hand_before + went.all(&[Flow::Filled, Flow::FromLots, Flow::Returned]);
    let mut jars = Table::new("filled", "What was in jars", &columns);
    let own = |flow: Flow| row(flow.said(), went.of(flow), came, Some(address(flow, span)));
    jars.rows.push(row("On hand by the book at the start", went.on_hand_before, came, None));
    jars.rows.extend(
        [Flow::Filled, Flow::FromLots, Flow::Returned]
            .into_iter()
            .filter(|flow| *flow == Flow::Filled || went.of(*flow) != Decimal::ZERO)
            .map(own),
    );
    jars.rows.extend(GONE.into_iter().filter(|flow| *flow != Flow::IntoLots || went.of(*flow) != Decimal::ZERO).map(|flow| {
        let mut cells = own(flow);
        if let Some(amount) = cells.get_mut(1) {
            amount.says = fixed(-went.of(flow), 1);
        }
        cells
    }));
    jars.total = Some(row("On hand by the book at the end", went.on_hand_after(), came, None));
    [pails, jars]
}

/// All the milk on one table: what came out of the cows, and every way it went until it reached somebody or nobody. It adds up,
/// because what nobody wrote down has a line of its own.
#[must_use]
pub fn disposition(went: &Went, span: Span) -> Table {
    let columns: [(&str, Holds, u8); 3] =
        [("Milk", Holds::Words, 4), ("Half-gallons", Holds::Figures, 2), ("Of a hundred", Holds::Figures, 2)];
    let mut table = Table::new("disposition", "What became of the milk", &columns);
    let produced = went.of(Flow::Produced);
    let mut line = |says: &str, amount: Decimal, opens: Option<Flow>| {
        table.rows.push(row(says, amount, produced, opens.map(|flow| address(flow, span))));
    };
    line("Reached a person", went.milk().reached, Some(Flow::HandedOut));
    line("To the household", went.all(&[Flow::House, Flow::JarsHouse]), Some(Flow::JarsHouse));
    line("To calves", went.all(&[Flow::Calf, Flow::JarsCalf]), Some(Flow::Calf));
    line("Colostrum, before she joined the can", went.of(Flow::Colostrum), Some(Flow::Colostrum));
    line("Kept back or thrown out", went.all(&[Flow::ThrownOut, Flow::JarsThrownOut]), Some(Flow::ThrownOut));
    line("Broken", went.of(Flow::Broken), Some(Flow::Broken));
    line("Samples and shelf jars", went.of(Flow::Samples), Some(Flow::Samples));
    line("Lost in making cream and other lots", went.of(Flow::IntoLots) - went.of(Flow::FromLots), Some(Flow::IntoLots));
    line("More on hand than at the start", went.on_hand_after() - went.on_hand_before, None);
    line("Unexplained: spilled, left in the can, or not written", went.unexplained(), None);
    table.total = Some(row("Out of the cows", produced, produced, Some(address(Flow::Produced, span))));
    table
}

fn row(says: &str, amount: Decimal, of: Decimal, opens: Option<String>) -> Vec<Cell> {
    let share = (amount * Decimal::ONE_HUNDRED).checked_div(of).map_or_else(|| "–".to_owned(), |share| fixed(share, 1));
    let shown = Cell { says: fixed(amount, 1), opens, guess: false };
    vec![Cell::says(says), shown, Cell::says(share)]
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Source: definition; every way milk goes is on the table once, so that it adds up to what came out of the cows.
    #[test]
    fn the_disposition_adds_up() {
        let flows: Vec<(Flow, Decimal)> = Flow::ALL.into_iter().zip((1..).map(|nth: i64| Decimal::from(nth * nth))).collect();
        let went = Went { flows, on_hand_before: Decimal::from(7) };
        let day = |text: &str| text.parse().unwrap();
        let table = disposition(&went, Span { from: day("2026-06-01"), to: day("2026-06-30") });
        let parts: Decimal = table.rows.iter().map(|row| row[1].says.parse::<Decimal>().unwrap()).sum();
        assert_eq!(parts, went.of(Flow::Produced));
    }

    /// Worked by hand: 300 out of the cows, 228 filled, 220 of them handed out and 2 brought back.
    #[test]
    fn the_milk_adds_up() {
        let flows = [
            (Flow::Produced, 300),
            (Flow::Calf, 40),
            (Flow::House, 20),
            (Flow::Filled, 228),
            (Flow::HandedOut, 220),
            (Flow::Returned, 2),
            (Flow::Broken, 1),
        ];
        let went = Went { flows: flows.map(|(flow, amount)| (flow, Decimal::from(amount))).to_vec(), on_hand_before: Decimal::from(6) };
        assert_eq!(went.unexplained(), Decimal::from(12));
        assert_eq!(went.milk().reached, Decimal::from(218));
        assert_eq!(went.on_hand_after(), Decimal::from(15), "6 + 228 + 2 - 220 - 1");
        for flow in Flow::ALL {
            assert_eq!(Flow::parse(flow.word()), Some(flow));
        }
    }
}
