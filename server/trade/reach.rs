//! The ways a household can be reached: a number that dials, an address that writes, or the name of a neighbour.

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

/// The first phone number in a text such as `County Health, 555-0191; after hours 555-0192`, as a link that dials it.
#[must_use]
pub fn first_number(says: &str) -> Option<String> {
    says.split([',', ';']).find_map(|part| {
        let number: String = part.trim().chars().skip_while(|c| !(c.is_ascii_digit() || *c == '+' || *c == '(')).collect();
        link_of(&number)
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

    #[test]
    fn the_first_number_of_an_address_dials() {
        assert_eq!(first_number("County Health, 555-0191; after hours 555-0192").as_deref(), Some("tel:5550191"));
        assert_eq!(first_number("Dr. Pell (802) 555-0142").as_deref(), Some("tel:8025550142"));
        assert_eq!(first_number("Ask at the town hall"), None);
    }

    #[test]
    fn one_number_has_one_mark_however_it_is_spelt() {
        assert_eq!(mark_of("802-555-0142"), mark_of("+1 (802) 555 0142"));
        assert_eq!(mark_of("Ash@Example.org"), mark_of("ash@example.org"));
        assert_ne!(mark_of("802-555-0142"), mark_of("802-555-0143"));
        assert_eq!(mark_of("the mill next door"), None);
    }
}
