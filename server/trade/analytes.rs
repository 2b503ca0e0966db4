//! What a lab tests for, under one name each.
//!
//! Labs, laws and farms write the same test in many ways. A result can only stand against a limit when both mean the
//! same thing, so a name is read once, here. A name nobody knows is kept as it was typed, because a lab may test for
//! something this list has never heard of.

pub use super::{lab_names::KNOWN, units::Unit};

use super::{
    capital,
    lab_names::{
        AFLATOXIN, AGALACTIAE, ALSO, AUREUS, BETA_LACTAM, BUTTERFAT, CAMPYLOBACTER, CASEIN, COLIFORMS, DRUG_RESIDUE, E_COLI,
        FREEZING_POINT, JOHNE, KINDS_OF, LAB_PASTEURIZED, LACTOSE, LEUKOSIS, LISTERIA, LISTERIA_SPECIES, MAKES_ILL, NEOSPORA, NO_SEARCH,
        O157, PATHOGENS, PESTICIDE, PLATE_COUNT, PREGNANCY, PROTEIN, SALMONELLA, SHIGA, SOLIDS, SOMATIC_CELLS, THERMODURIC, UREA,
        VIRAL_DIARRHEA, WATER_COLIFORMS,
    },
};
use std::fmt;

/// The germ a name is a kind of, by the words it begins with: `E. coli O26` is one that makes Shiga toxin.
fn of_its_kind(name: &str) -> Option<&'static str> {
    let small = name.to_lowercase();
    if NO_SEARCH.iter().any(|word| small.contains(word)) {
        return None;
    }
    let behind_coli = ["e. coli o", "e.coli o", "e coli o", "escherichia coli o"].iter().find_map(|begins| small.strip_prefix(begins));
    if behind_coli.is_some_and(|rest| rest.starts_with(|c: char| c.is_ascii_digit())) {
        return Some(SHIGA);
    }
    KINDS_OF.iter().find(|(begins, _)| small.starts_with(begins)).map(|(_, name)| *name)
}

/// O157:H7 is written with a colon, a dash, a blank or nothing between.
fn is_o157(small: &str) -> bool {
    let bare: String = small.chars().filter(|c| c.is_alphanumeric()).collect();
    ["o157h7", "o157", "ecolio157h7", "ecolio157", "escherichiacolio157h7", "escherichiacolio157", "steco157h7", "steco157"]
        .contains(&bare.as_str())
}

/// What a lab tests for.
#[derive(Clone, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct Analyte {
    name: String,
    /// Whether it is one of those known here. It follows from the name, and is asked of every result of a year for every lot.
    known: bool,
}

impl Analyte {
    fn named(name: String) -> Analyte {
        Analyte { known: KNOWN.contains(&name.as_str()), name }
    }

    /// Reads a name in any of the ways people write it; one that nobody knows is kept as typed.
    #[must_use]
    pub fn parse(typed: &str) -> Analyte {
        let plain = typed.split_whitespace().collect::<Vec<_>>().join(" ");
        let small = plain.to_lowercase();
        let known = KNOWN
            .iter()
            .find(|name| name.to_lowercase() == small)
            .or_else(|| ALSO.iter().find(|(also, _)| *also == small).map(|(_, name)| name))
            .or_else(|| is_o157(&small).then_some(&O157));
        Analyte::named(known.map_or(plain, |name| (*name).to_owned()))
    }

    /// Its one name.
    #[must_use]
    pub fn name(&self) -> &str {
        &self.name
    }

    /// Whether it is one of the names this program knows.
    #[must_use]
    pub const fn is_known(&self) -> bool {
        self.known
    }

    /// Whether finding any of it means the milk can make people ill. Some germs are only counted, such as E. coli of no
    /// special kind; they are not among these.
    #[must_use]
    pub fn is_pathogen(&self) -> bool {
        MAKES_ILL.contains(&self.name()) || self.germ().is_some()
    }

    /// Whether it stands for a whole panel of germs.
    #[must_use]
    pub fn is_panel(&self) -> bool {
        self.name() == PATHOGENS
    }

    /// The four germs that raw milk is commonly looked through for (common practice).
    #[must_use]
    pub fn usual_panel() -> [Analyte; 4] {
        [LISTERIA, SALMONELLA, CAMPYLOBACTER, SHIGA].map(|name| Analyte::named(name.to_owned()))
    }

    /// Whether a result of this one answers what `asked` asks: the same test, or one that looks for more of the same germ.
    #[must_use]
    pub fn answers(&self, asked: &Analyte) -> bool {
        let wider = [(SHIGA, O157), (LISTERIA_SPECIES, LISTERIA), (DRUG_RESIDUE, BETA_LACTAM)];
        self == asked || wider.contains(&(self.name(), asked.name())) || asked.germ() == Some(self.name())
    }

    /// Whether it is what a field or a feed leaves in milk.
    #[must_use]
    pub fn is_residue(&self) -> bool {
        matches!(self.name(), PESTICIDE | AFLATOXIN)
    }

    /// The same test of water: what is called coliforms there is not what a law says of milk.
    #[must_use]
    pub fn in_water(self) -> Analyte {
        if self.name() == COLIFORMS { Analyte::named(WATER_COLIFORMS.to_owned()) } else { self }
    }

    /// Whether a limit on it is a limit on water.
    #[must_use]
    pub fn is_of_water(&self) -> bool {
        self.name() == WATER_COLIFORMS
    }

    /// Whether it is one of the figures that tell how clean milking was and whether water got in, of which laws name some and leave
    /// out others.
    #[must_use]
    pub fn is_usual(&self) -> bool {
        matches!(self.name(), PLATE_COUNT | COLIFORMS | SOMATIC_CELLS | THERMODURIC | LAB_PASTEURIZED | FREEZING_POINT)
    }

    /// How many of it per millilitre the careful starting rules let be, where a place's own limits are not known; not law.
    #[must_use]
    pub fn careful_most(&self) -> Option<u32> {
        match self.name() {
            PLATE_COUNT => Some(15_000),
            COLIFORMS => Some(10),
            SOMATIC_CELLS => Some(500_000),
            _ => None,
        }
    }

    /// Whether it is a test of a cow and of the herd, which says nothing of her milk: she may well be with calf.
    #[must_use]
    pub fn is_of_the_herd(&self) -> bool {
        matches!(self.name(), PREGNANCY | JOHNE | LEUKOSIS | VIRAL_DIARRHEA | NEOSPORA | CASEIN)
    }

    /// Whether it says what milk is made of, and nothing of how clean it is.
    #[must_use]
    pub fn is_make_up(&self) -> bool {
        matches!(self.name(), BUTTERFAT | PROTEIN | LACTOSE | SOLIDS | UREA)
    }

    /// The germ it is one kind of, where it goes by a name of its own.
    fn germ(&self) -> Option<&'static str> {
        if self.is_known() { None } else { of_its_kind(self.name()) }
    }

    /// Whether it is a test for what a treated cow leaves in milk, of every drug or of one kind.
    #[must_use]
    pub fn is_drug(&self) -> bool {
        matches!(self.name(), DRUG_RESIDUE | BETA_LACTAM)
    }

    /// Whether a rule about this one is also about `other`: a rule on pathogens is about each of them, and O157:H7 is
    /// one of the E. coli that make Shiga toxin.
    #[must_use]
    pub fn covers(&self, other: &Analyte) -> bool {
        let part = [(SHIGA, O157), (DRUG_RESIDUE, BETA_LACTAM)].contains(&(self.name(), other.name()));
        self == other || (self.name() == PATHOGENS && other.is_pathogen()) || part || other.germ() == Some(self.name())
    }

    /// The unit its results are usually given in, to offer before anything is typed; none for what is found or not
    /// found.
    #[must_use]
    pub fn usual_unit(&self) -> Option<Unit> {
        match self.name() {
            PLATE_COUNT | COLIFORMS | SOMATIC_CELLS | E_COLI | THERMODURIC | LAB_PASTEURIZED | AUREUS | AGALACTIAE => Some(Unit::PerMl),
            WATER_COLIFORMS => Some(Unit::Per100Ml),
            FREEZING_POINT => Some(Unit::Celsius),
            AFLATOXIN => Some(Unit::Ppb),
            BUTTERFAT | PROTEIN | LACTOSE | SOLIDS => Some(Unit::Percent),
            _ => None,
        }
    }

    /// That it was found, as the start of a sentence: `Salmonella was found`, `Pathogens were found`.
    #[must_use]
    pub fn was_found(&self) -> String {
        let several = matches!(self.name(), PATHOGENS | COLIFORMS | WATER_COLIFORMS | SOMATIC_CELLS | SOLIDS);
        format!("{} {} found", self.spoken(), if several { "were" } else { "was" })
    }

    /// The name as the start of a sentence: `Plate count`.
    #[must_use]
    pub fn spoken(&self) -> String {
        capital(&self.name)
    }
}

impl fmt::Display for Analyte {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.name)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn one_thing_has_one_name() {
        for (typed, name) in [
            ("SPC", "plate count"),
            (" Standard  Plate Count ", "plate count"),
            ("APC", "plate count"),
            ("Coliform Count", "coliforms"),
            ("SCC", "somatic cells"),
            ("Antibiotics", "drug residue"),
            ("STEC", "Shiga toxin-producing E. coli"),
            ("listeria", "Listeria monocytogenes"),
            ("e. coli o157:h7", "E. coli O157:H7"),
            ("lactose", "lactose"),
        ] {
            assert_eq!(Analyte::parse(typed).name(), name);
        }
        assert!(KNOWN.iter().all(|name| Analyte::parse(name).name() == *name));
        assert!(ALSO.iter().all(|(also, name)| *also == also.to_lowercase() && KNOWN.contains(name) && !KNOWN.contains(also)));
    }

    #[test]
    fn several_were_found_and_one_was() {
        for (name, says) in [
            ("pathogens", "Pathogens were found"),
            ("coliforms", "Coliforms were found"),
            ("Salmonella", "Salmonella was found"),
            ("Staph aureus", "Staphylococcus aureus was found"),
            ("drug residue", "Drug residue was found"),
        ] {
            assert_eq!(Analyte::parse(name).was_found(), says);
        }
    }

    #[test]
    fn a_germ_that_is_only_counted_is_no_pathogen() {
        assert!(!Analyte::parse("E. coli").is_pathogen() && !Analyte::parse("Staphylococcus aureus").is_pathogen());
        assert!(Analyte::parse("pathogens").covers(&Analyte::parse("salmonella")));
        assert!(!Analyte::parse("E. coli").covers(&Analyte::parse("O157")));
        assert!(MAKES_ILL.iter().all(|name| KNOWN.contains(name)));
    }
}
