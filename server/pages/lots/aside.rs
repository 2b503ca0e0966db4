//! Jars of a lot set aside: drunk in the house, fed to a calf, kept as a sample, broken or thrown out. It owns no door.

use crate::{
    pages::{Here, field::Field, kind_of, remarks_of},
    store::{lots, records},
    trade::{
        balance::LotJars,
        jars::Size,
        records::{Remark, Shape, read},
        slips,
    },
    web::{answer::Trouble, form::Fields},
};

/// The sizes a lot can be filled in, the usual one first.
const SIZES: [(&str, &str, Size); 4] = [
    ("half_gallons", "Half-gallons", Size::HalfGallon),
    ("quarts", "Quarts", Size::Quart),
    ("pints", "Pints", Size::Pint),
    ("gallons", "Gallons", Size::Gallon),
];

/// Where jars can be set aside to.
const SORTS: &[&str] = &["household", "calf", "sample", "shelf jar", "broken", "thrown out", "returned"];

/// The fields of the form: where to and why, and how many of each size.
pub(super) fn fields(lot: &lots::Lot, typed: &Fields, remarks: &[Remark]) -> (Vec<Field>, Vec<Field>) {
    let field = |name, label, shape| Field::named(name, label, shape, typed, remarks);
    let sorts = SORTS.iter().map(|word| ((*word).to_owned(), (*word).to_owned())).collect();
    let sizes = SIZES.iter().filter(|(_, _, size)| lot.jars.of(*size) > 0);
    (
        vec![
            field("sort", "Went to", Shape::OneOf(SORTS)).choosing(sorts, true),
            field("reason", "Reason", Shape::Words(200)).optional(true),
        ],
        sizes.map(|(name, label, _)| field(name, label, Shape::Count(0, 999))).collect(),
    )
}

/// Keeps them; what there is to remark when it cannot.
pub(super) async fn kept(here: &Here, lot: &lots::Lot, typed: &Fields) -> Result<Vec<Remark>, Trouble> {
    let zero = |name: &str| if typed.get(name).trim().is_empty() { "0".to_owned() } else { typed.get(name).to_owned() };
    let line = Fields::default()
        .with("at", here.zone().for_file(here.now))
        .with("lot", lot.code.clone())
        .with("sort", typed.get("sort"))
        .with("half_gallons", zero("half_gallons"))
        .with("gallons", zero("gallons"))
        .with("quarts", zero("quarts"))
        .with("pints", zero("pints"))
        .with("reason", typed.get("reason"));
    let kind = kind_of("asides")?;
    let cells = match read(kind, |column| line.get(column).to_owned(), here.farm.ways) {
        Ok(cells) => cells,
        Err(remarks) => return Ok(remarks),
    };
    let mut tx = here.app.ledger.begin().await?;
    let book =
        LotJars::gathered(lots::moved(&mut tx, &[lot.number]).await?.get(&lot.number).map_or(&[][..], Vec::as_slice), None).by_the_book();
    let going = kind.jars(&cells);
    let mut remarks = slips::remarks(kind, &cells, here.farm.ways, here.latest());
    if going.is_none() {
        remarks.push(Remark::fault("half_gallons", "How many jars? At least one."));
    } else if typed.get("sort") != "returned"
        && !book.covers(going)
        && records::by_entry(&mut tx, kind, typed.get("entry")).await?.is_none()
    {
        remarks.push(Remark::fault(
            "half_gallons",
            format!(
                "By the book {book} are left of {}, so {going} cannot go. Count the fridge, or correct what was written before.",
                lot.code
            ),
        ));
    }
    if !remarks.is_empty() {
        return Ok(remarks);
    }
    let act = records::act(&mut tx, here.now, &here.visitor.name, "screen").await?;
    match records::keep_typed(&mut tx, kind, typed.get("entry"), cells, &act).await {
        Ok(_) => tx.commit().await.map(|()| Vec::new()).map_err(Trouble::from),
        Err(refusal) => remarks_of(refusal),
    }
}
