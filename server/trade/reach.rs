//! The ways a household can be reached: a number that dials, an address that writes, or the name of a neighbour.

use super::in_an_address;

/// The digits somebody would dial.
#[must_use]
pub fn digits(way: &str) -> String {
    way.chars().filter(char::is_ascii_digit).collect()
}

/// A link that dials or writes, when the way is a number or an address; a neighbour's name is neither.
#[must_use]
pub fn link_of(way: &str) -> Option<String> {
    let way = way.trim();
    let is_address = way.contains('@') && !way.contains(char::is_whitespace);
    let is_number = digits(way).len() >= 7 && way.chars().all(|c| c.is_ascii_digit() || " +-().".contains(c));
    match (is_address, is_number) {
        (true, _) => Some(format!("mailto:{way}")),
        (_, true) => Some(format!("tel:{}{}", if way.starts_with('+') { "+" } else { "" }, digits(way))),
        _ => None,
    }
}

/// The parts of a text such as `County Health, 555-0191; after hours 555-0192`, each with the link that dials its number when it has
/// one: at night the first number is not the one to ring.
#[must_use]
pub fn numbers(says: &str) -> Vec<(String, Option<String>)> {
    let number = |part: &str| part.chars().skip_while(|c| !(c.is_ascii_digit() || *c == '+' || *c == '(')).collect::<String>();
    let parts = says.split([',', ';']).map(str::trim).filter(|part| !part.is_empty());
    parts.map(|part| (part.to_owned(), link_of(&number(part)))).collect()
}

/// The longest address an e-mail's record holds.
const LONGEST: usize = 80;

/// The address an e-mail can be sent to, when the way is one: the plain form that every server takes (RFC 5321, 4.1.2,
/// Dot-string). Nothing that could end a line, name a second address or be read as a command is in one.
#[must_use]
pub fn address_of(way: &str) -> Option<&str> {
    let way = way.trim();
    let (name, place) = way.split_once('@')?;
    let plain = |part: &str, also: &str| part.chars().all(|c| c.is_ascii_alphanumeric() || also.contains(c));
    let parts = |text: &str, also: &str| text.split('.').all(|part| !part.is_empty() && plain(part, also));
    let named = parts(name, "!#$%&'*+-/=?^_`{|}~") && name.len() <= 64;
    let placed = parts(place, "-") && place.contains('.') && !place.split('.').any(|part| part.starts_with('-') || part.ends_with('-'));
    (named && placed && way.len() <= LONGEST).then_some(way)
}

/// A link that opens a message with the words in it, to be looked at and sent by whoever tapped it: a text to a number, a letter to
/// an address (RFC 5724 and RFC 6068).
#[must_use]
pub fn message_of(way: &str, about: &str, words: &str) -> Option<String> {
    let link = link_of(way)?;
    let words = in_an_address(words);
    Some(match link.strip_prefix("tel:") {
        Some(number) => format!("sms:{number}?body={words}"),
        None => format!("{link}?subject={}&body={words}", in_an_address(about)),
    })
}

/// The same mark for two spellings of one number or one address; nothing for a neighbour's name, which two houses may share.
#[must_use]
pub fn mark_of(way: &str) -> Option<String> {
    let link = link_of(way)?;
    if let Some(address) = link.strip_prefix("mailto:") {
        return Some(address.to_lowercase());
    }
    let number = digits(way);
    // The last ten digits, so that a country's prefix does not hide a double.
    Some(number.chars().skip(number.len().saturating_sub(10)).collect())
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Source: RFC 3966 (tel) and RFC 6068 (mailto). The numbers are from the range kept free for stories, 555-0100 to 555-0199.
    #[test]
    fn ways_become_links_only_when_they_are_some() {
        assert_eq!(link_of("(802) 555-0142").as_deref(), Some("tel:8025550142"));
        assert_eq!(link_of("+1 802 555 0142").as_deref(), Some("tel:+18025550142"));
        assert_eq!(link_of("ash@example.org").as_deref(), Some("mailto:ash@example.org"));
        assert_eq!(link_of("knock at the mill, number 12"), None);
        assert_eq!(link_of(""), None);
    }

    /// Source: RFC 5321, 4.1.2 (Dot-string, Domain). What else it allows, quoted names and addresses in brackets, no household
    /// here goes by, and each is a way to smuggle something in.
    #[test]
    fn only_a_plain_address_is_written_to() {
        assert_eq!(address_of(" ash.grove+milk@mail.example.org "), Some("ash.grove+milk@mail.example.org"));
        assert_eq!(address_of("o'dell@example.org"), Some("o'dell@example.org"));
        for wrong in [
            "555-0142",
            "knock at the mill",
            "@example.org",
            "ash@",
            "ash@example",
            "ash@@example.org",
            "ash@example.org, elm@example.org",
            "ash@example.org\r\nBcc: elm@example.org",
            "<ash@example.org>",
            "\"ash grove\"@example.org",
            "ash..grove@example.org",
            "ash@-example.org",
            "ash@[192.0.2.1]",
            "äsche@example.org",
        ] {
            assert_eq!(address_of(wrong), None, "{wrong}");
        }
        assert_eq!(address_of(&format!("{}@example.org", "a".repeat(70))), None);
    }

    #[test]
    fn each_number_of_an_address_dials() {
        let part = |says: &str, link: &str| (says.to_owned(), Some(link.to_owned()));
        let expected = [("County Health".to_owned(), None), part("555-0191", "tel:5550191"), part("after hours 555-0192", "tel:5550192")];
        assert_eq!(numbers("County Health, 555-0191; after hours 555-0192"), expected);
        assert_eq!(numbers("Dr. Pell (802) 555-0142"), [part("Dr. Pell (802) 555-0142", "tel:8025550142")]);
        assert_eq!(numbers(" "), []);
    }

    #[test]
    fn a_message_opens_with_its_words() {
        assert_eq!(message_of("(802) 555-0142", "Milk", "Fewer jars.").as_deref(), Some("sms:8025550142?body=Fewer%20jars."));
        let mail = "mailto:ash@example.org?subject=Milk%20today&body=Fewer%20jars%20%26%20no%20blame";
        assert_eq!(message_of("ash@example.org", "Milk today", "Fewer jars & no blame").as_deref(), Some(mail));
        assert_eq!(message_of("knock at the mill", "Milk", "Fewer jars."), None);
    }

    #[test]
    fn one_number_has_one_mark_however_it_is_spelt() {
        assert_eq!(mark_of("802-555-0142"), mark_of("+1 (802) 555 0142"));
        assert_eq!(mark_of("Ash@Example.org"), mark_of("ash@example.org"));
        assert_ne!(mark_of("802-555-0142"), mark_of("802-555-0143"));
        assert_eq!(mark_of("the mill next door"), None);
    }
}
