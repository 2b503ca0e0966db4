//! What is said back of what was typed: a fault as a sentence, and words cut, escaped or begun as a line.

use std::fmt;

/// What is wrong with something typed, as a sentence that says how to put it right.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Fault(String);

impl Fault {
    /// A fault that says this.
    #[must_use]
    pub fn says(sentence: impl Into<String>) -> Fault {
        Fault(sentence.into())
    }
}

impl fmt::Display for Fault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.0)
    }
}

/// What was typed, cut to a length that can be said back: ten thousand characters help nobody.
#[must_use]
pub fn short(typed: &str) -> String {
    let plain: String = typed.trim().chars().filter(|c| !c.is_control()).take(41).collect();
    if plain.chars().count() > 40 { plain.chars().take(39).chain(['…']).collect() } else { plain }
}

/// A household's number, or any other word, as it may stand in an address: all but the unreserved letters are escaped (RFC 3986, 2.3).
#[must_use]
pub fn in_an_address(text: &str) -> String {
    let plain = |byte: u8| byte.is_ascii_alphanumeric() || b"-._~".contains(&byte);
    text.bytes().map(|byte| if plain(byte) { char::from(byte).to_string() } else { format!("%{byte:02X}") }).collect()
}

/// A word or a few as the start of a line: `plate count` is `Plate count`.
#[must_use]
pub fn capital(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map_or_else(String::new, |first| first.to_uppercase().chain(letters).collect())
}
