//! Times, and the table of them.

use std::{
    fmt,
    time::{Duration, Instant},
};

/// The times of one question at one size, shortest first.
#[derive(Clone, Debug, Default)]
pub struct Times(Vec<Duration>);

impl Times {
    /// Asks so many times, after a first that is not counted.
    pub async fn of<F: Future>(times: usize, mut ask: impl FnMut() -> F) -> Times {
        ask().await;
        let mut own = Vec::new();
        for _ in 0..times {
            let started = Instant::now();
            ask().await;
            own.push(started.elapsed());
        }
        own.into()
    }

    /// What was done once.
    pub fn once(taken: Duration) -> Times {
        vec![taken].into()
    }

    fn at(&self, hundredth: usize) -> Duration {
        self.0.get((self.0.len() * hundredth / 100).min(self.0.len().saturating_sub(1))).copied().unwrap_or_default()
    }

    fn median(&self) -> Duration {
        self.at(50)
    }
}

impl From<Vec<Duration>> for Times {
    fn from(mut times: Vec<Duration>) -> Times {
        times.sort();
        Times(times)
    }
}

/// What was asked, and how long it took at each size.
pub struct Table {
    sizes: Vec<i64>,
    rows: Vec<(String, Vec<(i64, Times)>)>,
    words: Vec<(i64, String)>,
}

impl Table {
    pub fn new(sizes: &[i64]) -> Table {
        Table { sizes: sizes.to_vec(), rows: Vec::new(), words: Vec::new() }
    }

    pub fn add(&mut self, years: i64, asked: &str, times: Times) {
        println!("{years} years: {asked}: {}", said(&times));
        match self.rows.iter_mut().find(|(own, _)| own == asked) {
            Some((_, all)) => all.push((years, times)),
            None => self.rows.push((asked.to_owned(), vec![(years, times)])),
        }
    }

    /// What is worth knowing besides: how large, how many.
    pub fn say(&mut self, years: i64, words: String) {
        println!("{years} years: {words}");
        self.words.push((years, words));
    }
}

fn said(times: &Times) -> String {
    let in_ms = |own: Duration| {
        let micros = own.as_micros();
        if micros >= 100_000 { format!("{}", micros / 1000) } else { format!("{}.{:02}", micros / 1000, micros % 1000 / 10) }
    };
    if times.0.len() < 2 { in_ms(times.median()) } else { format!("{} ({})", in_ms(times.median()), in_ms(times.at(99))) }
}

impl fmt::Display for Table {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for (years, words) in &self.words {
            writeln!(f, "- {years} years: {words}")?;
        }
        writeln!(f, "\nMilliseconds: the median, and in brackets what 99 of 100 stay under.\n")?;
        let heads: Vec<String> = self.sizes.iter().map(|years| format!("{years} years")).collect();
        let ratio = (self.sizes.len() > 1).then(|| format!(" {} : {} |", self.sizes[self.sizes.len() - 1], self.sizes[0]));
        writeln!(f, "| | {} |{}", heads.join(" | "), ratio.clone().unwrap_or_default())?;
        writeln!(f, "|---|{}", "--:|".repeat(self.sizes.len() + usize::from(ratio.is_some())))?;
        for (asked, all) in &self.rows {
            let cells: Vec<String> = self
                .sizes
                .iter()
                .map(|size| all.iter().find(|(own, _)| own == size).map_or_else(String::new, |(_, own)| said(own)))
                .collect();
            let ratio = ratio.as_ref().and_then(|_| {
                let (first, last) = (all.first()?.1.median().as_micros(), all.last()?.1.median().as_micros());
                (all.len() > 1).then(|| format!(" {}.{} |", last / first.max(1), last * 10 / first.max(1) % 10))
            });
            writeln!(f, "| {asked} | {} |{}", cells.join(" | "), ratio.unwrap_or_default())?;
        }
        Ok(())
    }
}
