//! The names a lab's tests go by: one name each, the other ways of writing it, and which of them make people ill.

pub(super) const PLATE_COUNT: &str = "plate count";
pub(super) const COLIFORMS: &str = "coliforms";
pub(super) const SOMATIC_CELLS: &str = "somatic cells";
pub(super) const E_COLI: &str = "E. coli";
pub(super) const THERMODURIC: &str = "thermoduric count";
pub(super) const LAB_PASTEURIZED: &str = "lab-pasteurized count";
pub(super) const DRUG_RESIDUE: &str = "drug residue";
pub(super) const BETA_LACTAM: &str = "beta-lactam residue";
pub(super) const PESTICIDE: &str = "pesticide residue";
pub(super) const AFLATOXIN: &str = "aflatoxin M1";
pub(super) const FREEZING_POINT: &str = "freezing point";
pub(super) const LISTERIA: &str = "Listeria monocytogenes";
pub(super) const LISTERIA_SPECIES: &str = "Listeria species";
pub(super) const SALMONELLA: &str = "Salmonella";
pub(super) const CAMPYLOBACTER: &str = "Campylobacter";
pub(super) const SHIGA: &str = "Shiga toxin-producing E. coli";
pub(super) const O157: &str = "E. coli O157:H7";
pub(super) const YERSINIA: &str = "Yersinia enterocolitica";
pub(super) const BOTULINUM: &str = "Clostridium botulinum";
pub(super) const CEREUS: &str = "Bacillus cereus";
pub(super) const AUREUS: &str = "Staphylococcus aureus";
pub(super) const AGALACTIAE: &str = "Streptococcus agalactiae";
pub(super) const INFLUENZA: &str = "influenza A (H5N1)";
pub(super) const BOVIS: &str = "Mycobacterium bovis";
pub(super) const BRUCELLA: &str = "Brucella";
pub(super) const PATHOGENS: &str = "pathogens";
pub(super) const WATER_COLIFORMS: &str = "water coliforms";
pub(super) const BUTTERFAT: &str = "butterfat";
pub(super) const PROTEIN: &str = "protein";
pub(super) const COXIELLA: &str = "Coxiella burnetii";
pub(super) const CRYPTOSPORIDIUM: &str = "Cryptosporidium";
pub(super) const PREGNANCY: &str = "pregnancy";
pub(super) const JOHNE: &str = "Johne's disease";
pub(super) const LEUKOSIS: &str = "bovine leukosis";
pub(super) const VIRAL_DIARRHEA: &str = "bovine viral diarrhea";
pub(super) const NEOSPORA: &str = "Neospora";
pub(super) const CASEIN: &str = "A2 beta-casein";
pub(super) const LACTOSE: &str = "lactose";
pub(super) const SOLIDS: &str = "total solids";
pub(super) const UREA: &str = "milk urea";

/// Every name that is known, in the order of the lists people choose from.
pub const KNOWN: &[&str] = &[
    PLATE_COUNT,
    COLIFORMS,
    SOMATIC_CELLS,
    E_COLI,
    THERMODURIC,
    LAB_PASTEURIZED,
    DRUG_RESIDUE,
    BETA_LACTAM,
    PESTICIDE,
    AFLATOXIN,
    FREEZING_POINT,
    LISTERIA,
    LISTERIA_SPECIES,
    SALMONELLA,
    CAMPYLOBACTER,
    SHIGA,
    O157,
    YERSINIA,
    BOTULINUM,
    CEREUS,
    AUREUS,
    AGALACTIAE,
    INFLUENZA,
    BOVIS,
    BRUCELLA,
    COXIELLA,
    CRYPTOSPORIDIUM,
    PATHOGENS,
    WATER_COLIFORMS,
    BUTTERFAT,
    PROTEIN,
    LACTOSE,
    SOLIDS,
    UREA,
    PREGNANCY,
    JOHNE,
    LEUKOSIS,
    VIRAL_DIARRHEA,
    NEOSPORA,
    CASEIN,
];

/// Other ways of writing a known name, in small letters.
pub(super) const ALSO: &[(&str, &str)] = &[
    ("standard plate count", PLATE_COUNT),
    ("total plate count", PLATE_COUNT),
    ("aerobic plate count", PLATE_COUNT),
    ("plate count at 30 °c", PLATE_COUNT),
    ("total bacteria", PLATE_COUNT),
    ("total bacterial count", PLATE_COUNT),
    ("bacteria", PLATE_COUNT),
    ("bacteria count", PLATE_COUNT),
    ("bacterial count", PLATE_COUNT),
    ("total viable count", PLATE_COUNT),
    ("spc", PLATE_COUNT),
    ("apc", PLATE_COUNT),
    ("tpc", PLATE_COUNT),
    ("tbc", PLATE_COUNT),
    ("tvc", PLATE_COUNT),
    ("coliform", COLIFORMS),
    ("coliform count", COLIFORMS),
    ("total coliform", COLIFORMS),
    ("total coliforms", COLIFORMS),
    ("coli count", COLIFORMS),
    ("somatic cell", SOMATIC_CELLS),
    ("somatic cell count", SOMATIC_CELLS),
    ("cell count", SOMATIC_CELLS),
    ("scc", SOMATIC_CELLS),
    ("e coli", E_COLI),
    ("e.coli", E_COLI),
    ("escherichia coli", E_COLI),
    ("generic e. coli", E_COLI),
    ("thermoduric", THERMODURIC),
    ("thermodurics", THERMODURIC),
    ("lpc", LAB_PASTEURIZED),
    ("lab pasteurized count", LAB_PASTEURIZED),
    ("laboratory pasteurized count", LAB_PASTEURIZED),
    ("laboratory pasteurised count", LAB_PASTEURIZED),
    ("drug", DRUG_RESIDUE),
    ("drugs", DRUG_RESIDUE),
    ("drug residues", DRUG_RESIDUE),
    ("antibiotic", DRUG_RESIDUE),
    ("antibiotics", DRUG_RESIDUE),
    ("inhibitor", DRUG_RESIDUE),
    ("inhibitors", DRUG_RESIDUE),
    ("inhibitory substances", DRUG_RESIDUE),
    ("beta-lactam", BETA_LACTAM),
    ("beta-lactams", BETA_LACTAM),
    ("beta lactam", BETA_LACTAM),
    ("beta-lactam drugs", BETA_LACTAM),
    ("pesticide", PESTICIDE),
    ("pesticides", PESTICIDE),
    ("pesticide residues", PESTICIDE),
    ("aflatoxin", AFLATOXIN),
    ("afm1", AFLATOXIN),
    ("cryoscope", FREEZING_POINT),
    ("listeria", LISTERIA),
    ("l. monocytogenes", LISTERIA),
    ("listeria spp", LISTERIA_SPECIES),
    ("listeria spp.", LISTERIA_SPECIES),
    ("salmonella spp", SALMONELLA),
    ("salmonella spp.", SALMONELLA),
    ("campylobacter spp", CAMPYLOBACTER),
    ("campylobacter spp.", CAMPYLOBACTER),
    ("campylobacter jejuni", CAMPYLOBACTER),
    ("c. jejuni", CAMPYLOBACTER),
    ("stec", SHIGA),
    ("vtec", SHIGA),
    ("ehec", SHIGA),
    ("shiga toxin", SHIGA),
    ("shiga toxin-producing escherichia coli", SHIGA),
    ("shiga toxin producing e. coli", SHIGA),
    ("o157", O157),
    ("o157:h7", O157),
    ("e. coli o157", O157),
    ("e.coli o157:h7", O157),
    ("e coli o157:h7", O157),
    ("e coli o157", O157),
    ("e.coli o157", O157),
    ("escherichia coli o157:h7", O157),
    ("yersinia", YERSINIA),
    ("y. enterocolitica", YERSINIA),
    ("botulism", BOTULINUM),
    ("c. botulinum", BOTULINUM),
    ("b. cereus", CEREUS),
    ("s. aureus", AUREUS),
    ("staph aureus", AUREUS),
    ("staph. aureus", AUREUS),
    ("strep ag", AGALACTIAE),
    ("strep. agalactiae", AGALACTIAE),
    ("strep agalactiae", AGALACTIAE),
    ("s. agalactiae", AGALACTIAE),
    ("h5n1", INFLUENZA),
    ("avian influenza", INFLUENZA),
    ("bird flu", INFLUENZA),
    ("influenza a", INFLUENZA),
    ("m. bovis", BOVIS),
    ("bovine tb", BOVIS),
    ("pathogen", PATHOGENS),
    ("pathogen panel", PATHOGENS),
    ("pathogen screen", PATHOGENS),
    ("water coliform", WATER_COLIFORMS),
    ("coliforms in water", WATER_COLIFORMS),
    ("fat", BUTTERFAT),
    ("milk fat", BUTTERFAT),
    ("solids", SOLIDS),
    ("q fever", COXIELLA),
    ("pregnancy test", PREGNANCY),
    ("johne's", JOHNE),
    ("johnes", JOHNE),
    ("johne's elisa", JOHNE),
    ("map", JOHNE),
    ("mycobacterium avium paratuberculosis", JOHNE),
    ("blv", LEUKOSIS),
    ("leukosis", LEUKOSIS),
    ("bvd", VIRAL_DIARRHEA),
    ("a2", CASEIN),
    ("a2 gene", CASEIN),
    ("a2a2", CASEIN),
    ("mun", UREA),
    ("urea", UREA),
    ("milk urea nitrogen", UREA),
];

/// What makes people ill through milk: found once, the milk it was found in is never freed.
pub(super) const MAKES_ILL: &[&str] = &[
    LISTERIA,
    LISTERIA_SPECIES,
    SALMONELLA,
    CAMPYLOBACTER,
    SHIGA,
    O157,
    YERSINIA,
    BOTULINUM,
    CEREUS,
    INFLUENZA,
    BOVIS,
    BRUCELLA,
    PATHOGENS,
    COXIELLA,
    CRYPTOSPORIDIUM,
];

/// Words a name of a germ begins with, whatever kind of it the lab names behind: `Salmonella Dublin`, `E. coli O26`. What was
/// found under such a name is that germ; what was not found says nothing of its other kinds.
pub(super) const KINDS_OF: &[(&str, &str)] = &[
    ("salmonella ", SALMONELLA),
    ("campylobacter ", CAMPYLOBACTER),
    ("listeria ", LISTERIA),
    ("yersinia ", YERSINIA),
    ("brucella ", BRUCELLA),
    ("coxiella", COXIELLA),
    ("cryptosporidium ", CRYPTOSPORIDIUM),
    ("clostridium botulinum ", BOTULINUM),
    ("shiga toxin", SHIGA),
    ("stec ", SHIGA),
];

/// Words in a name of something that is no search for the germ in milk.
pub(super) const NO_SEARCH: &[&str] = &["control", "antibod", "titre", "titer", "vaccin"];
