//! What somebody might type who means no good, or holds the phone upside down.
//!
//! Sources: OWASP Cross-Site Scripting Prevention and CSV Injection, SQL injection and path traversal pages (the shapes, from
//! memory); the Unicode standard for digits that are no ASCII digits and for marks that turn the direction of writing; IEEE 754
//! for figures beyond a float.

/// Letters that no page of the farm has, so that what was typed is known again wherever it comes up.
pub const MARK: &str = "qz7x";

/// A seeded choice: a linear congruential generator (Knuth, The Art of Computer Programming, volume 2, 3.3.4; the constants are
/// MMIX's, from memory). It need not be good, only the same every time.
pub struct Dice(u64);

impl Dice {
    /// From a seed.
    pub const fn new(seed: u64) -> Dice {
        Dice(seed)
    }

    /// A number below this.
    pub fn below(&mut self, most: usize) -> usize {
        self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        usize::try_from(self.0 >> 33).unwrap_or(0) % most.max(1)
    }

    /// One of these.
    pub fn one<'a, T>(&mut self, of: &'a [T]) -> &'a T {
        &of[self.below(of.len())]
    }
}

/// Everything that is typed into a field.
pub fn values() -> Vec<String> {
    let plain = [
        "",
        " ",
        "\u{0}",
        "\u{1}\u{7}\u{1b}[31m\r\n\t\u{7f}",
        "a\r\nSet-Cookie: a=b",
        "{{7*7}}",
        "${7*7}",
        "=cmd|' /C calc'!A0",
        "=HYPERLINK(\"http://farm.example/\")",
        "+1+cmd",
        "@SUM(1)",
        "-1",
        "0",
        "-0",
        "0.1",
        "1",
        "2",
        "7.25",
        "39.5",
        "1/2",
        "99999999999999999999",
        "9223372036854775807",
        "-9223372036854775808",
        "79228162514264337593543950335",
        "0.0000000000000000000000000001",
        "1e309",
        "1e-400",
        "NaN",
        "inf",
        "-inf",
        "٣",
        "２",
        "½",
        "1,5",
        "1'000",
        "$1",
        "%",
        "%00",
        "%ff",
        "\u{202e}4.4 F\u{202c}",
        "\u{200b}\u{feff}",
        "🐄🥛👩\u{200d}🌾",
        "e\u{301}\u{301}\u{301}",
        "../../etc/passwd",
        "..\\..\\x",
        "/",
        "//farm.example",
        "javascript:alert(1)",
        "' OR '1'='1",
        "'; DROP TABLE lots; --",
        "\" OR 1=1 --",
        "0000-00-00",
        "0001-01-01",
        "9999-12-31",
        "9999-12-31T23:59",
        "-9999-01-01",
        "+262143-01-01",
        "2026-02-30",
        "2026-13-01",
        "2024-02-29",
        // The hour that is not there and the hour that is there twice, on the sample farm's clock.
        "2026-03-08T02:30",
        "2026-11-01T01:30",
        "2026-11-21T15:00:60",
        "2026-11-21",
        "2026-11-21T14:00",
        "2026-11-21 AM",
        "6134A-S",
        "6134A-T",
        "M01",
        "Damson",
        "all",
        "yes",
        "on",
        "null",
        "undefined",
        "true",
        "[]",
        "a=b;c=d",
        "=",
        ";;;",
        "price of Hay +1e9 %; milk -100 %",
    ];
    let marked = [
        format!("{MARK}\"><script>{MARK}</script>"),
        format!("{MARK}'\"</textarea><b>{MARK}"),
        format!("{MARK}' onmouseover='{MARK}"),
        format!("{MARK}\" autofocus onfocus=\"{MARK}"),
        format!("{MARK}<!--{MARK}"),
        format!("={MARK}\"<{MARK}"),
        format!("{MARK}<img src=x>{MARK}"),
    ];
    let long = [
        "9".repeat(10_000),
        "x".repeat(10_000),
        "<".repeat(10_000),
        ";".repeat(10_000),
        "🐄".repeat(2_500),
        "a ".repeat(5_000),
        "1,".repeat(5_000),
        format!("{}1", " ".repeat(9_999)),
    ];
    plain.map(str::to_owned).into_iter().chain(marked).chain(long).collect()
}

/// What a page must never hold: what was typed with its brackets and quotes still at work.
const RAW: [&str; 8] =
    ["\"><script", "'\"</textarea", "' onmouseover", "\" autofocus", "<!--", "\"<qz7x", "<img src=x", "&#39;\"</textarea"];

/// The words around such a place, if there is one.
pub fn raw_in(page: &str) -> Option<String> {
    page.match_indices(MARK).find_map(|(at, _)| {
        let rest = &page[at + MARK.len()..];
        RAW.iter().any(|raw| rest.starts_with(raw)).then(|| page[at..].chars().take(80).collect())
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_stands_raw_is_seen_and_what_is_escaped_is_not() {
        for value in values().iter().filter(|value| value.contains(MARK)) {
            assert!(raw_in(&format!("<p>{value}</p>")).is_some(), "{value}");
            let escaped =
                value.replace('&', "&#38;").replace('<', "&#60;").replace('>', "&#62;").replace('"', "&#34;").replace('\'', "&#39;");
            assert_eq!(raw_in(&format!("<p>{escaped}</p><input value=\"{escaped}\">")), None);
        }
    }
}
