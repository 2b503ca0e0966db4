//! Events as an EPCIS 2.0 document in JSON-LD (GS1 EPCIS and CBV 2.0; ISO/IEC 19987 and 19988), for another farm's or an authority's
//! program. Which event says what is the table in `docs/events.md`.
//!
//! Names are made without a company prefix, which a farm of this size has not bought and nobody may invent, and without a web
//! address, which it may not own or may lose. What is left of the URIs the standard takes is `urn:uuid:` (RFC 9562): free to all,
//! and never given twice. Each is made from the entry mark of the record, which no correction changes, and from what it stands for, by
//! the name-based way of that RFC (version 5); so the same lot has the same name in every document, and nobody reads a household out
//! of one. What a name stands for is said in the document's master data: lot codes, jar sizes, household numbers, records. No
//! household is named, and nothing that somebody wrote in their own words is told.

use crate::trade::{
    balance,
    events::{Event, Events, Lot, Milking, What},
    jars::Size,
    kinds::kind,
    measure::{Scale, Temperature, trimmed},
    when::{Moment, Zone},
};
use serde::Serialize;
use serde_json::Number;
use std::collections::BTreeMap;
use uuid::Uuid;

mod told;

use told::{
    Action, Attribute, Body, Declared, Document, Element, Ended, Header, Id, Lasting, Lists, Master, Quantity, Report, Sensor, Told,
    Transaction, Vocabulary,
};

/// The type of the bytes.
pub const KIND: &str = "application/ld+json";

/// The meaning of the words, as the standard names it.
const CONTEXT: &str = "https://ref.gs1.org/standards/epcis/2.0.0/epcis-context.jsonld";

/// The bytes of a document that holds the events. The moment is the one it is made at, because a paper reads no clock.
#[must_use]
pub fn print(events: &Events, zone: Zone, made: Moment) -> Vec<u8> {
    let mut paper = Paper { events, zone, names: BTreeMap::new() };
    let list: Vec<Told> = events.all.iter().map(|event| paper.told(event)).collect();
    let document = Document {
        context: [CONTEXT],
        sort: "EPCISDocument",
        schema_version: "2.0",
        creation_date: zone.for_file(made),
        header: Header { master: Master { vocabularies: paper.vocabularies() } },
        body: Body { events: list },
    };
    // Text written to memory does not fail.
    serde_json::to_vec_pretty(&document).unwrap_or_default()
}

/// A name that is only this record's, for one thing it stands for.
fn urn(entry: &str, stands_for: &str) -> String {
    let own = Uuid::parse_str(entry).unwrap_or_else(|_| Uuid::new_v5(&Uuid::nil(), entry.as_bytes()));
    Uuid::new_v5(&own, stands_for.as_bytes()).urn().to_string()
}

fn event_id(event: &Event) -> String {
    let lot = event.lot.as_ref().map_or("", |lot| lot.entry.as_str());
    urn(&event.record.entry, &format!("{} event {} {lot}", event.record.kind, event.state))
}

/// A figure as JSON writes it, digit for digit.
fn number(figure: &str) -> Option<Number> {
    serde_json::from_str(figure).ok()
}

/// What a document says of one step: what becomes of what it names, which step it was, and how it left it.
type Step = (Action, &'static str, Option<&'static str>);

/// The step of an event about jars, in the words of the core business vocabulary.
///
/// A hand-out is `dispensing`, which says that a consumer got it; `retail_selling` would say that it was sold, and on a herdshare
/// nothing is. A lifted hold leaves no disposition: that milk may be handed out again is no claim of what it is fit for.
const fn step(what: &What) -> Step {
    match what {
        What::Milked(_) | What::Filled { .. } => (Action::Add, "creating_class_instance", Some("active")),
        What::Chilled { .. } => (Action::Observe, "sensor_reporting", None),
        What::HandedOut { .. } => (Action::Observe, "dispensing", Some("dispensed")),
        What::Counted { .. } => (Action::Observe, "cycle_counting", None),
        What::Held { .. } => (Action::Observe, "holding", Some("non_sellable_other")),
        What::Lifted { .. } => (Action::Observe, "other", None),
        What::CalledBack { .. } => (Action::Observe, "holding", Some("recalled")),
        What::SetAside { went, .. } => match went {
            balance::What::Household => (Action::Observe, "dispensing", Some("dispensed")),
            balance::What::Sample => (Action::Observe, "sampling", Some("non_sellable_other")),
            balance::What::ShelfJar => (Action::Observe, "storing", Some("non_sellable_other")),
            balance::What::Returned => (Action::Observe, "receiving", Some("returned")),
            balance::What::Broken | balance::What::ThrownOut => (Action::Delete, "destroying", Some("destroyed")),
            _ => (Action::Delete, "other", Some("non_sellable_other")),
        },
    }
}

/// What a hold sets on a lot until it is lifted, and a call-back for good.
fn lasting(what: &What) -> Option<Lasting> {
    match what {
        What::Held { .. } => Some(Lasting { set: vec!["unavailable"], unset: Vec::new() }),
        What::Lifted { .. } => Some(Lasting { set: Vec::new(), unset: vec!["unavailable"] }),
        What::CalledBack { .. } => Some(Lasting { set: vec!["recalled"], unset: Vec::new() }),
        _ => None,
    }
}

/// The types of names that master data explains.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum Named {
    Place,
    Class,
    Party,
    Record,
}

impl Named {
    const fn vocabulary(self) -> &'static str {
        match self {
            Named::Place => "urn:epcglobal:epcis:vtype:BusinessLocation",
            Named::Class => "urn:epcglobal:epcis:vtype:EPCClass",
            Named::Party => "urn:epcglobal:epcis:vtype:SourceDest",
            Named::Record => "urn:epcglobal:epcis:vtype:BusinessTransaction",
        }
    }
}

/// A document being drawn, with every name that was used so far.
struct Paper<'a> {
    events: &'a Events,
    zone: Zone,
    names: BTreeMap<(Named, String), Vec<(&'static str, String)>>,
}

impl Paper<'_> {
    fn name(&mut self, named: Named, urn: String, says: Vec<(&'static str, String)>) -> String {
        let says = says.into_iter().filter(|(_, own)| !own.is_empty()).collect();
        self.names.insert((named, urn.clone()), says);
        urn
    }

    fn farm(&mut self) -> Id {
        let farm = &self.events.farm;
        let says = vec![("cbvmda:name", farm.name.clone()), ("cbvmda:streetAddressOne", farm.address.clone())];
        Id { id: self.name(Named::Place, urn(&farm.entry, "farm"), says) }
    }

    /// The jars of one size of a lot, or the lot itself where no jar of it was filled.
    fn class(&mut self, lot: &Lot, size: Option<Size>) -> String {
        let (jar, own) = size.map_or_else(
            || (String::new(), "lots".to_owned()),
            |size| (format!(", {} jar", size.one()), format!("lots {} jar", size.one())),
        );
        let says = vec![("cbvmda:descriptionShort", format!("{}{jar}", lot.product())), ("cbvmda:lotNumber", lot.code.clone())];
        self.name(Named::Class, urn(&lot.entry, &own), says)
    }

    /// The milk of one milking in the can.
    fn milk(&mut self, milking: &Milking) -> String {
        let says = vec![("cbvmda:descriptionShort", format!("Raw milk in the can, milking {}", milking.session))];
        self.name(Named::Class, urn(&milking.entry, "milkings milk"), says)
    }

    /// A whole lot, without a quantity: it is not known how much of it stood there.
    fn whole(&mut self, lot: &Lot) -> Vec<Quantity> {
        let sizes: Vec<Option<Size>> = lot.sizes().map(Some).collect();
        let sizes = if sizes.is_empty() { vec![None] } else { sizes };
        sizes.into_iter().map(|size| Quantity::of(self.class(lot, size), None, None)).collect()
    }

    fn jars(&mut self, event: &Event) -> Vec<Quantity> {
        let Some(lot) = &event.lot else { return Vec::new() };
        let sizes = Size::ALL.into_iter().filter(|size| event.jars.of(*size) > 0);
        sizes.map(|size| Quantity::of(self.class(lot, Some(size)), Some(event.jars.of(size).into()), None)).collect()
    }

    fn told(&mut self, event: &Event) -> Told {
        let (action, biz_step, disposition) = step(&event.what);
        let record = &event.record;
        let one = kind(record.kind).map_or(record.kind, |kind| kind.one);
        let says = vec![("cbvmda:descriptionShort", format!("{one} {}", record.number))];
        let transaction = self.name(Named::Record, urn(&record.entry, &format!("{} record", record.kind)), says);
        let farm = self.farm();
        let told = Told {
            sort: "ObjectEvent",
            id: event_id(event),
            time: self.zone.for_file(event.at),
            offset: self.zone.offset(event.at),
            recorded: self.zone.for_file(self.events.written(event).0),
            declared: self.declared(event),
            action: Some(action),
            lists: Lists::default(),
            transformation: None,
            biz_step,
            disposition,
            lasting: lasting(&event.what),
            read_point: farm.clone(),
            biz_location: farm,
            transactions: vec![Transaction { transaction }],
            destinations: Vec::new(),
            sensors: Vec::new(),
            ilmd: BTreeMap::new(),
        };
        self.with_what(event, told)
    }

    /// The event with what it is about.
    fn with_what(&mut self, event: &Event, told: Told) -> Told {
        let lot = event.lot.clone().unwrap_or_default();
        match &event.what {
            What::Milked(milked) => {
                let pounds = number(&trimmed(milked.milk.in_pounds(), 2));
                let quantities = vec![Quantity::of(self.milk(&milked.milking), pounds, Some("LBR"))];
                let days = [("cbvmda:harvestStartDate", milked.started), ("cbvmda:harvestEndDate", event.at)];
                let ilmd = days.into_iter().map(|(name, at)| (name, self.zone.day(at).to_string())).collect();
                Told { lists: Lists::of(quantities), ilmd, ..told }
            }
            What::Filled { milkings, lots, .. } => self.transformed(event, &lot, milkings, lots, told),
            What::SetAside { went: balance::What::IntoLot, .. } => {
                let id = urn(&self.made_of(event).unwrap_or(&lot).entry, "lots transformation");
                let inputs = if event.jars.is_none() { self.whole(&lot) } else { self.jars(event) };
                let lists = Lists::turned(inputs, Vec::new());
                let sort = "TransformationEvent";
                Told { sort, action: None, lists, transformation: Some(id), biz_step: "creating_class_instance", disposition: None, ..told }
            }
            What::Chilled { read, thermometer, .. } => {
                let sensors = self.sensed(event, read, thermometer);
                Told { lists: Lists::of(self.whole(&lot)), sensors, ..told }
            }
            What::HandedOut { to, .. } => {
                let to = to.as_ref().map(|own| {
                    self.name(Named::Party, urn(&own.entry, "people"), vec![("cbvmda:name", format!("Household {}", own.label))])
                });
                let destinations = to.into_iter().map(|destination| Ended { sort: "possessing_party", destination }).collect();
                Told { lists: Lists::of(self.jars(event)), destinations, ..told }
            }
            What::SetAside { .. } | What::Counted { .. } => Told { lists: Lists::of(self.jars(event)), ..told },
            What::Held { .. } | What::Lifted { .. } | What::CalledBack { .. } => Told { lists: Lists::of(self.whole(&lot)), ..told },
        }
    }

    /// A lot that was filled or made: what went in, how much of it is not known of each, and the jars that came out.
    fn transformed(&mut self, event: &Event, lot: &Lot, milkings: &[Milking], lots: &[Lot], told: Told) -> Told {
        let mut inputs: Vec<Quantity> = milkings.iter().map(|own| Quantity::of(self.milk(own), None, None)).collect();
        inputs.extend(lots.iter().flat_map(|own| self.whole(own)).collect::<Vec<_>>());
        let mut outputs = self.jars(event);
        // An event has to be about something, if nothing is known but that the lot was there.
        if inputs.is_empty() && outputs.is_empty() {
            outputs = self.whole(lot);
        }
        Told {
            sort: "TransformationEvent",
            action: None,
            lists: Lists::turned(inputs, outputs),
            // It lets an event stand that has no jars, and ties the jars of other lots that went in to it.
            transformation: Some(urn(&lot.entry, "lots transformation")),
            ilmd: BTreeMap::from([("cbvmda:lotNumber", lot.code.clone())]),
            ..told
        }
    }

    /// The lot that jars set aside were made into: one that was made of theirs at the same moment.
    fn made_of(&self, aside: &Event) -> Option<&Lot> {
        let from = aside.lot.as_ref()?;
        let is_of = |event: &&Event| match &event.what {
            What::Filled { lots, .. } => event.at == aside.at && lots.iter().any(|own| own.number == from.number),
            _ => false,
        };
        self.events.all.iter().find(is_of)?.lot.as_ref()
    }

    fn sensed(&self, event: &Event, read: &str, thermometer: &str) -> Vec<Sensor> {
        let Ok(temperature) = Temperature::parse(read, Scale::Fahrenheit) else { return Vec::new() };
        let uom = match temperature.scale() {
            Scale::Fahrenheit => "FAH",
            Scale::Celsius => "CEL",
        };
        let device =
            (!thermometer.is_empty()).then(|| urn(&self.events.farm.entry, &format!("thermometer {}", thermometer.to_lowercase())));
        let time = self.zone.for_file(event.at);
        let report = Report { sort: "Temperature", device, time, value: number(&trimmed(temperature.degrees(), 2)), uom };
        vec![Sensor { reports: vec![report] }]
    }

    /// That the event is no longer held to be so: since when, why in the standard's two words, and what stands in its place.
    fn declared(&self, event: &Event) -> Option<Declared> {
        let struck = event.struck.as_ref()?;
        Some(Declared {
            at: self.zone.for_file(struck.at),
            reason: if struck.replaced { "incorrect_data" } else { "did_not_occur" },
            corrected_by: self.events.in_place_of(event).map(event_id).into_iter().collect(),
        })
    }

    /// What every name in the document stands for.
    fn vocabularies(self) -> Vec<Vocabulary> {
        let mut lists: BTreeMap<Named, Vec<Element>> = BTreeMap::new();
        for ((named, id), says) in self.names {
            let attributes = says.into_iter().map(|(id, attribute)| Attribute { id, attribute }).collect();
            lists.entry(named).or_default().push(Element { id, attributes });
        }
        lists.into_iter().map(|(named, elements)| Vocabulary { sort: named.vocabulary(), elements }).collect()
    }
}
