//! When what is tested again and again is due: by how often a place asks for it, by what a result called for, and by the
//! days a place gives for a fresh sample after a notice.

use super::{
    analytes::Analyte,
    capital,
    due::{About, COMMON_PRACTICE, Due, OWN_PAPER, Sort},
    frequency::{Frequencies, Frequency, How},
    kept::{Kept, standing as kept},
    known::may_never_be,
    lab::{LabResult, Of},
    limits::{Limit, Limits, Pattern},
    rules::Sure,
    standing::{Compared, Rung, calls_for, compare, ladder, resample_window},
    when::{Day, Zone, day_shown},
};

/// What is asked again and again of cows and of the farm, and written down as a renewal.
pub const DUTIES: [&str; 6] =
    ["TB test", "brucellosis test", "rabies vaccination", "herd health exam", "vet exam with blood test", "inspection"];

/// What a call-back to practise is called among the renewals.
pub const PRACTICE: &str = "practice call-back";

/// A rule set in force, as far as this looks at it.
#[derive(Clone, Debug, Default)]
pub struct Followed {
    /// Its number.
    pub number: i64,
    /// What it is called, with its citation.
    pub source: String,
    /// How sure the set is as a whole.
    pub sure: String,
    /// Since when it is followed, its earlier versions counted in: nothing was owed to it before.
    pub since: Day,
    /// The limits.
    pub limits: Limits,
    /// How often things are tested.
    pub tests: Frequencies,
    /// Days after a notice before which and after which a fresh sample does not count.
    pub resample: Option<(i64, i64)>,
    /// By when it is to be looked at again.
    pub check_by: Option<Day>,
}

/// A paper or a deed that has to be renewed.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Renewal {
    /// Its number.
    pub number: i64,
    /// Its sort.
    pub sort: String,
    /// What it is.
    pub what: String,
    /// When it was done or signed.
    pub done: Day,
    /// Until when it is good.
    pub until: Option<Day>,
    /// The cow, if it is of one.
    pub cow: Option<String>,
}

/// A cow still here.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct HerdCow {
    /// Her name.
    pub name: String,
    /// Since when she is here.
    pub since: Day,
    /// Whether she gives milk now.
    pub in_milk: bool,
    /// The day she is due to calve.
    pub due: Option<Day>,
}

/// What these dates rest on.
#[derive(Clone, Debug)]
pub struct Tests<'a> {
    /// The farm's clock.
    pub zone: Zone,
    /// The day it is.
    pub today: Day,
    /// The first day of the ledger.
    pub since: Day,
    /// The first day with milk in it; none for a farm that has not milked.
    pub milk_since: Option<Day>,
    /// The rules in force.
    pub rules: &'a [Followed],
    /// The lab's results.
    pub results: &'a [LabResult],
    /// The days of samples whose temperature was read when the lab got them.
    pub received: &'a [Day],
    /// The cows still here.
    pub cows: &'a [HerdCow],
    /// The renewals.
    pub renewals: &'a [Renewal],
}

impl Tests<'_> {
    /// Everything that is to be tested or done again, in no order.
    #[must_use]
    pub fn due(&self) -> Vec<Due> {
        let mut due = Vec::new();
        for rules in self.rules {
            for frequency in &rules.tests.0 {
                let source = sure_of(&rules.source, frequency.sure);
                due.extend(frequency.subjects.iter().flat_map(|subject| self.of_subject(subject, frequency, rules, &source)));
            }
            due.extend(self.further(rules));
            due.extend(self.resamples(rules));
        }
        due.extend(self.practice());
        due
    }

    /// Whether a renewal of this sort is looked at here, its own last day too.
    #[must_use]
    pub fn covers(&self, sort: &str) -> bool {
        let asked =
            |rules: &Followed| rules.tests.0.iter().any(|own| own.how != How::AsSet && own.subjects.iter().any(|subject| subject == sort));
        (DUTIES.contains(&sort) && self.rules.iter().any(asked)) || (sort == PRACTICE && self.milk_since.is_some())
    }

    fn of_subject(&self, subject: &str, frequency: &Frequency, rules: &Followed, source: &str) -> Vec<Due> {
        if DUTIES.contains(&subject) {
            return self.duty(subject, frequency, rules, source);
        }
        let analyte = Analyte::parse(subject);
        if analyte.name() == "water coliforms" {
            let done =
                self.days(|result| matches!(result.of, Of::Water) && ["water coliforms", "coliforms"].contains(&result.analyte.name()));
            let also = "also at once after a repair of the well";
            let line = self.line(subject, frequency, &done, self.since.max(rules.since), format!("Water test: {subject}"), source);
            return line
                .map(|due| Due {
                    sort: Sort::Water,
                    detail: format!("{}; {also}", due.detail),
                    about: About::WaterSample(subject.to_owned()),
                    ..due
                })
                .into_iter()
                .collect();
        }
        let Some(milk_since) = self.milk_since else { return Vec::new() };
        let milk_since = milk_since.max(self.since).max(rules.since);
        if frequency.each_cow {
            let milked = self.cows.iter().filter(|cow| cow.in_milk);
            let lines = milked.filter_map(|cow| {
                let done = self.tested(&analyte, rules, |of| *of == Of::Cow(cow.name.clone()));
                let what = format!("Milk test of {}: {subject}", cow.name);
                let due = self.line(subject, frequency, &done, milk_since.max(cow.since), what, source)?;
                Some(Due {
                    key: format!("{} of {}", due.key, cow.name),
                    about: About::CowSample(cow.name.clone(), subject.to_owned()),
                    ..due
                })
            });
            return lines.collect();
        }
        let done = match subject {
            "cooling" => self.received.to_vec(),
            "added water" => self.tested(&Analyte::parse("freezing point"), rules, |of| matches!(of, Of::Lot(_))),
            _ => self.tested(&analyte, rules, |of| matches!(of, Of::Lot(_))),
        };
        let line = self.line(subject, frequency, &done, milk_since, format!("Milk test: {subject}"), source);
        // A lab is asked for the freezing point, which tells of added water.
        let asked = if subject == "added water" { "freezing point" } else { subject };
        line.map(|due| Due { about: About::MilkSample(asked.to_owned()), ..due }).into_iter().collect()
    }

    /// A line for one subject, where a day can be told.
    fn line(&self, subject: &str, frequency: &Frequency, done: &[Day], since: Day, what: String, source: &str) -> Option<Due> {
        let (day, overdue) = match kept(frequency, done, since, self.today) {
            Kept::Met { due: Some(by) } | Kept::Due { by } => (by, false),
            Kept::Overdue { since } => (since.pred_opt()?, true),
            Kept::Met { due: None } | Kept::NotKnown => return None,
        };
        // The day stands beside the reason, so the reason need not say it again.
        let reason = frequency.reason(subject, done, since, self.today);
        let detail =
            ["; the next by ", "; overdue since "].iter().find_map(|day| reason.split_once(day)).map_or(reason.as_str(), |(had, _)| had);
        Some(Due {
            key: format!("test {subject}"),
            sort: Sort::Milk,
            from: None,
            day,
            what,
            named: String::new(),
            detail: detail.to_owned(),
            source: source.to_owned(),
            overdue,
            about: About::MilkSample(subject.to_owned()),
        })
    }

    fn days(&self, counts: impl Fn(&LabResult) -> bool) -> Vec<Day> {
        self.results.iter().filter(|result| counts(result)).map(|result| result.day(self.zone)).collect()
    }

    fn tested(&self, analyte: &Analyte, rules: &Followed, of: impl Fn(&Of) -> bool) -> Vec<Day> {
        days_tested(&rules.limits, analyte, self.results, self.zone, of)
    }

    /// A duty of the herd or of the farm, for each cow where the rule or the records name cows.
    fn duty(&self, subject: &str, frequency: &Frequency, rules: &Followed, source: &str) -> Vec<Due> {
        let own: Vec<&Renewal> = self.renewals.iter().filter(|renewal| renewal.sort == subject).collect();
        let of_the_farm = subject == "inspection";
        if !of_the_farm && self.cows.is_empty() {
            return Vec::new();
        }
        if !of_the_farm && (frequency.each_cow || own.iter().any(|renewal| renewal.cow.is_some())) {
            return self.cows.iter().filter_map(|cow| self.duty_of(subject, frequency, &own, Some(cow), (rules.since, source))).collect();
        }
        self.duty_of(subject, frequency, &own, None, (rules.since, source)).into_iter().collect()
    }

    fn duty_of(
        &self,
        subject: &str,
        frequency: &Frequency,
        own: &[&Renewal],
        cow: Option<&HerdCow>,
        (asked, source): (Day, &str),
    ) -> Option<Due> {
        let name = cow.map(|cow| cow.name.clone());
        let own: Vec<&&Renewal> = own.iter().filter(|renewal| renewal.cow.is_none() || renewal.cow == name).collect();
        let done: Vec<Day> = own.iter().map(|renewal| renewal.done).collect();
        let began = cow.map_or(self.since, |cow| cow.since.max(self.since)).max(asked);
        // Whoever writes an old one down writes the last one down: nothing is taken to have followed it.
        let since = match frequency.how {
            How::EveryMonths(_) | How::EveryDays(_) => done.iter().copied().fold(began, Day::min),
            _ => began,
        };
        let what = name.as_ref().map_or_else(|| capital(subject), |name| format!("{}: {name}", capital(subject)));
        let due = self.line(subject, frequency, &done, since, what, source)?;
        let newest = own.iter().max_by_key(|renewal| (renewal.done, renewal.number));
        let sooner = newest.and_then(|renewal| renewal.until).filter(|until| *until < due.day);
        let (day, source) = sooner.map_or((due.day, due.source.clone()), |until| (until, OWN_PAPER.to_owned()));
        let detail = sooner.map_or(due.detail.clone(), |until| format!("its paper is good to {}", day_shown(until)));
        let sort = match subject {
            "inspection" => Sort::Inspection,
            PRACTICE => Sort::Practice,
            _ => Sort::Herd,
        };
        let key = name.as_ref().map_or_else(|| due.key.clone(), |name| format!("{} of {name}", due.key));
        let about = About::Renewal { sort: subject.to_owned(), what: capital(subject), cow: name };
        Some(Due { key, sort, day, source, detail, overdue: day < self.today, about, ..due })
    }

    /// A call-back is practised once a year, as soon as there is milk to call back.
    fn practice(&self) -> Option<Due> {
        let began = self.milk_since?.max(self.since);
        let yearly = Frequency { subjects: vec![PRACTICE.to_owned()], how: How::EveryMonths(12), each_cow: false, sure: Sure::Chosen };
        let own: Vec<&Renewal> = self.renewals.iter().filter(|renewal| renewal.sort == PRACTICE).collect();
        let from_then = Tests { since: began, ..self.clone() };
        from_then.duty_of(PRACTICE, &yearly, &own, None, (began, COMMON_PRACTICE))
    }

    /// Tests that a result called for, until one drawn later is in.
    fn further(&self, rules: &Followed) -> Vec<Due> {
        let mut due = Vec::new();
        for limit in &rules.limits.0 {
            for result in self.results.iter().filter(|own| matches!(own.of, Of::Lot(_)) && limit.analyte.covers(&own.analyte)) {
                let Some(test) = calls_for(limit, &result.figure, result.unit) else { continue };
                let done = self.tested(test, rules, |of| matches!(of, Of::Lot(_)));
                let answers =
                    |own: &&LabResult| own.drawn > result.drawn && done.contains(&own.day(self.zone)) && test.covers(&own.analyte);
                if self.results.iter().any(|own| answers(&own)) {
                    continue;
                }
                due.push(Due {
                    key: format!("further {test} for {}", limit.analyte),
                    sort: Sort::Further,
                    from: None,
                    day: result.reported,
                    what: format!("Milk test: {test}"),
                    named: String::new(),
                    detail: format!("called for by {}, reported {}", result.spoken(), day_shown(result.reported)),
                    source: sure_of(&rules.source, limit.sure),
                    overdue: result.reported < self.today,
                    about: About::MilkSample(test.to_string()),
                });
            }
        }
        due
    }

    /// Fresh samples after a notice, until one drawn in time is in. The day of the notice itself is not in the ledger, so
    /// the day the lab reported stands in for it.
    fn resamples(&self, rules: &Followed) -> Vec<Due> {
        let Some((after, within)) = rules.resample else { return Vec::new() };
        let in_a_row = rules.limits.0.iter().any(|limit| limit.pattern == Pattern::Ladder);
        let lines = rules.limits.0.iter().filter_map(|limit| {
            let (drawn, called) = if in_a_row { self.noticed(limit)? } else { self.warned(limit, rules)? };
            let own = || self.results.iter().filter(|own| matches!(own.of, Of::Lot(_)) && limit.analyte.covers(&own.analyte));
            let reported = own().filter(|result| result.day(self.zone) == drawn).map(|result| result.reported).max()?;
            let (from, day) = resample_window(reported, after, within);
            if own().any(|result| result.day(self.zone) >= from) {
                return None;
            }
            Some(Due {
                key: format!("resample {}", limit.analyte),
                sort: Sort::Resample,
                from: Some(from),
                day,
                what: format!("Fresh sample after a {called}: {}", limit.analyte),
                named: String::new(),
                detail: format!(
                    "{after} to {within} days from {}, when the lab reported; count from the {called} itself if it came later",
                    day_shown(reported)
                ),
                source: format!("{}, {}", rules.source, rules.sure),
                overdue: day < self.today,
                about: About::MilkSample(limit.analyte.to_string()),
            })
        });
        lines.collect()
    }

    /// The day whose result brought a notice or stopped the milk, where the rule looks at so many of the last so many.
    fn noticed(&self, limit: &Limit) -> Option<(Day, &'static str)> {
        let rungs = ladder(limit, self.results, self.zone);
        rungs.last().filter(|(_, rung)| *rung != Rung::Fine)?;
        let height = |rung: &Rung| match rung {
            Rung::Fine => 0,
            Rung::Notice { .. } => 1,
            Rung::Action { .. } => 2,
        };
        let raised = |nth: &usize| {
            let before = nth.checked_sub(1).and_then(|before| rungs.get(before)).map_or(0, |(_, rung)| height(rung));
            rungs.get(*nth).is_some_and(|(_, rung)| height(rung) > before)
        };
        let (drawn, rung) = rungs.get((0..rungs.len()).rev().find(raised)?)?;
        Some((*drawn, if matches!(rung, Rung::Action { .. }) { "stop of the milk" } else { "notice" }))
    }

    /// The day of the newest result, where one alone over the limit brings a warning. A germ or a drug that was found is no
    /// count that ran high, and no fresh sample answers it.
    fn warned(&self, limit: &Limit, rules: &Followed) -> Option<(Day, &'static str)> {
        let own = self.results.iter().filter(|own| matches!(own.of, Of::Lot(_)) && limit.analyte.covers(&own.analyte));
        let newest = own.max_by_key(|result| (result.drawn, result.number))?;
        let over = limit.pattern == Pattern::Single && compare(limit, &newest.figure, newest.unit) == Compared::Over;
        (over && !may_never_be(&rules.limits, newest)).then(|| (newest.day(self.zone), "warning"))
    }
}

/// The days something was tested for, with everything of that day taken together: a panel of germs is whole only with each of
/// its germs.
pub fn days_tested(limits: &Limits, analyte: &Analyte, results: &[LabResult], zone: Zone, of: impl Fn(&Of) -> bool) -> Vec<Day> {
    let own = || results.iter().filter(|result| of(&result.of));
    let whole = |day: &Day| {
        let that_day = own().filter(|result| result.day(zone) == *day);
        limits.answers(analyte, &that_day.map(|result| &result.analyte).collect::<Vec<_>>())
    };
    own().filter(|result| analyte.covers(&result.analyte)).map(|result| result.day(zone)).filter(whole).collect()
}

fn sure_of(source: &str, sure: Sure) -> String {
    format!("{source}, {sure}")
}
