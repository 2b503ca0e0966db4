//! The parts of an EPCIS 2.0 document, under the names the standard gives them.

use super::{BTreeMap, Number, Serialize};

#[derive(Serialize)]
pub(super) struct Document {
    #[serde(rename = "@context")]
    pub context: [&'static str; 1],
    #[serde(rename = "type")]
    pub sort: &'static str,
    #[serde(rename = "schemaVersion")]
    pub schema_version: &'static str,
    #[serde(rename = "creationDate")]
    pub creation_date: String,
    #[serde(rename = "epcisHeader")]
    pub header: Header,
    #[serde(rename = "epcisBody")]
    pub body: Body,
}

#[derive(Serialize)]
pub(super) struct Header {
    #[serde(rename = "epcisMasterData")]
    pub master: Master,
}

#[derive(Serialize)]
pub(super) struct Master {
    #[serde(rename = "vocabularyList")]
    pub vocabularies: Vec<Vocabulary>,
}

#[derive(Serialize)]
pub(super) struct Vocabulary {
    #[serde(rename = "type")]
    pub sort: &'static str,
    #[serde(rename = "vocabularyElementList")]
    pub elements: Vec<Element>,
}

#[derive(Serialize)]
pub(super) struct Element {
    pub id: String,
    pub attributes: Vec<Attribute>,
}

#[derive(Serialize)]
pub(super) struct Attribute {
    pub id: &'static str,
    pub attribute: String,
}

#[derive(Serialize)]
pub(super) struct Body {
    #[serde(rename = "eventList")]
    pub events: Vec<Told>,
}

/// What becomes of what an event names: it comes to be, it is seen, or it is no more.
#[derive(Clone, Copy, Serialize)]
#[serde(rename_all = "UPPERCASE")]
pub(super) enum Action {
    Add,
    Observe,
    Delete,
}

#[derive(Serialize)]
pub(super) struct Told {
    #[serde(rename = "type")]
    pub sort: &'static str,
    #[serde(rename = "eventID")]
    pub id: String,
    #[serde(rename = "eventTime")]
    pub time: String,
    #[serde(rename = "eventTimeZoneOffset")]
    pub offset: String,
    #[serde(rename = "recordTime")]
    pub recorded: String,
    #[serde(rename = "errorDeclaration", skip_serializing_if = "Option::is_none")]
    pub declared: Option<Declared>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub action: Option<Action>,
    #[serde(flatten)]
    pub lists: Lists,
    #[serde(rename = "transformationID", skip_serializing_if = "Option::is_none")]
    pub transformation: Option<String>,
    #[serde(rename = "bizStep")]
    pub biz_step: &'static str,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub disposition: Option<&'static str>,
    #[serde(rename = "persistentDisposition", skip_serializing_if = "Option::is_none")]
    pub lasting: Option<Lasting>,
    #[serde(rename = "readPoint")]
    pub read_point: Id,
    #[serde(rename = "bizLocation")]
    pub biz_location: Id,
    #[serde(rename = "bizTransactionList")]
    pub transactions: Vec<Transaction>,
    #[serde(rename = "destinationList", skip_serializing_if = "Vec::is_empty")]
    pub destinations: Vec<Ended>,
    #[serde(rename = "sensorElementList", skip_serializing_if = "Vec::is_empty")]
    pub sensors: Vec<Sensor>,
    #[serde(skip_serializing_if = "BTreeMap::is_empty")]
    pub ilmd: BTreeMap<&'static str, String>,
}

/// What an event is about: things that are there, or what went in and came out.
#[derive(Default, Serialize)]
pub(super) struct Lists {
    /// Single things, of which the farm marks none. It stands, empty, where an event is about no jar at all: a count of none.
    #[serde(rename = "epcList", skip_serializing_if = "Option::is_none")]
    singles: Option<[String; 0]>,
    #[serde(rename = "quantityList", skip_serializing_if = "Vec::is_empty")]
    quantities: Vec<Quantity>,
    #[serde(rename = "inputQuantityList", skip_serializing_if = "Vec::is_empty")]
    inputs: Vec<Quantity>,
    #[serde(rename = "outputQuantityList", skip_serializing_if = "Vec::is_empty")]
    outputs: Vec<Quantity>,
}

impl Lists {
    /// These things, as they are there.
    pub fn of(quantities: Vec<Quantity>) -> Lists {
        Lists { singles: quantities.is_empty().then_some([]), quantities, ..Lists::default() }
    }

    /// What went in and what came out.
    pub fn turned(inputs: Vec<Quantity>, outputs: Vec<Quantity>) -> Lists {
        Lists { inputs, outputs, ..Lists::default() }
    }
}

#[derive(Serialize)]
pub(super) struct Quantity {
    #[serde(rename = "epcClass")]
    class: String,
    #[serde(skip_serializing_if = "Option::is_none")]
    quantity: Option<Number>,
    #[serde(skip_serializing_if = "Option::is_none")]
    uom: Option<&'static str>,
}

impl Quantity {
    /// So many of a class. The standard takes no quantity of nothing, and no unit without a quantity.
    pub fn of(class: String, quantity: Option<Number>, uom: Option<&'static str>) -> Quantity {
        let quantity = quantity.filter(|own| own.as_f64().is_some_and(|own| own > 0.0));
        Quantity { class, uom: uom.filter(|_| quantity.is_some()), quantity }
    }
}

#[derive(Serialize)]
pub(super) struct Declared {
    #[serde(rename = "declarationTime")]
    pub at: String,
    pub reason: &'static str,
    #[serde(rename = "correctiveEventIDs", skip_serializing_if = "Vec::is_empty")]
    pub corrected_by: Vec<String>,
}

#[derive(Serialize)]
pub(super) struct Lasting {
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub set: Vec<&'static str>,
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub unset: Vec<&'static str>,
}

#[derive(Clone, Serialize)]
pub(super) struct Id {
    pub id: String,
}

#[derive(Serialize)]
pub(super) struct Transaction {
    #[serde(rename = "bizTransaction")]
    pub transaction: String,
}

#[derive(Serialize)]
pub(super) struct Ended {
    #[serde(rename = "type")]
    pub sort: &'static str,
    pub destination: String,
}

#[derive(Serialize)]
pub(super) struct Sensor {
    #[serde(rename = "sensorReport")]
    pub reports: Vec<Report>,
}

#[derive(Serialize)]
pub(super) struct Report {
    #[serde(rename = "type")]
    pub sort: &'static str,
    #[serde(rename = "deviceID", skip_serializing_if = "Option::is_none")]
    pub device: Option<String>,
    pub time: String,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub value: Option<Number>,
    pub uom: &'static str,
}
