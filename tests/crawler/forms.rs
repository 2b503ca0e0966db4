//! Reads the forms and the links out of a page, as a browser would find them.
//!
//! Source: the HTML standard, 13.2.5 (tokenisation) and 4.10.21 (form submission), as far as our own pages use it.

/// A start tag: its name and its attributes, with their values as the reader means them.
struct Tag {
    name: String,
    attributes: Vec<(String, String)>,
    /// The text up to the next tag.
    text: String,
}

impl Tag {
    fn get(&self, name: &str) -> Option<&str> {
        self.attributes.iter().find(|(own, _)| own == name).map(|(_, value)| value.as_str())
    }
}

/// A form as it stands on a page.
#[derive(Clone, Debug, Default)]
pub struct Form {
    /// Where it is sent; empty for the page it stands on.
    pub action: String,
    /// Whether it is sent, or only asks.
    pub posts: bool,
    /// Whether it carries a file.
    pub has_file: bool,
    /// Its fields in order: the name, the sort of field, and what stands in it.
    pub fields: Vec<Field>,
}

/// One field of a form.
#[derive(Clone, Debug)]
pub struct Field {
    /// Its name.
    pub name: String,
    /// `text`, `date`, `select`, `hidden`, `button` and so on.
    pub sort: String,
    /// What a browser would send of it.
    pub value: String,
}

/// What an attribute or a text means.
pub fn meant(text: &str) -> String {
    let mut out = String::new();
    let mut rest = text;
    while let Some(at) = rest.find('&') {
        out.push_str(&rest[..at]);
        rest = &rest[at..];
        let end = rest.find(';').filter(|end| *end < 9);
        let found = end.and_then(|end| match &rest[1..end] {
            "amp" => Some('&'),
            "lt" => Some('<'),
            "gt" => Some('>'),
            "quot" => Some('"'),
            number => number.strip_prefix('#').and_then(|number| number.parse().ok()).and_then(char::from_u32),
        });
        match (found, end) {
            (Some(letter), Some(end)) => {
                out.push(letter);
                rest = &rest[end + 1..];
            }
            _ => {
                out.push('&');
                rest = &rest[1..];
            }
        }
    }
    out + rest
}

fn tags(page: &str) -> Vec<Tag> {
    let mut tags = Vec::new();
    let mut rest = page;
    while let Some(at) = rest.find('<') {
        rest = &rest[at + 1..];
        let (mut quote, mut end) = (None, rest.len());
        for (place, letter) in rest.char_indices() {
            match (quote, letter) {
                (None, '>') => {
                    end = place;
                    break;
                }
                (None, '"' | '\'') => quote = Some(letter),
                (Some(own), letter) if own == letter => quote = None,
                _ => {}
            }
        }
        let (inside, after) = (&rest[..end], rest.get(end + 1..).unwrap_or_default());
        let text = after.split('<').next().unwrap_or_default();
        tags.push(Tag {
            name: inside.split_whitespace().next().unwrap_or_default().to_owned(),
            attributes: attributes(inside),
            text: meant(text),
        });
        rest = after;
    }
    tags
}

fn attributes(inside: &str) -> Vec<(String, String)> {
    let mut found = Vec::new();
    let mut rest = inside.split_once(char::is_whitespace).map_or("", |(_, rest)| rest).trim_start();
    while !rest.is_empty() {
        let end = rest.find(|c: char| c == '=' || c.is_whitespace()).unwrap_or(rest.len());
        let name = &rest[..end];
        rest = &rest[end..];
        let mut value = "";
        if let Some(quoted) = rest.strip_prefix("=\"") {
            (value, rest) = quoted.split_once('"').unwrap_or((quoted, ""));
        } else if let Some(bare) = rest.strip_prefix('=') {
            (value, rest) = bare.split_at(bare.find(char::is_whitespace).unwrap_or(bare.len()));
        }
        found.push((name.to_owned(), meant(value)));
        rest = rest.trim_start();
    }
    found
}

/// The addresses on this farm a page leads to.
pub fn links(page: &str) -> Vec<String> {
    let all = tags(page);
    let own = all.iter().filter(|tag| tag.name == "a").filter_map(|tag| tag.get("href")).filter(|href| href.starts_with('/'));
    own.map(|href| href.split('#').next().unwrap_or_default().to_owned()).collect()
}

/// The forms on a page.
pub fn forms(page: &str) -> Vec<Form> {
    let mut forms: Vec<Form> = Vec::new();
    let mut open = false;
    let mut chosen: Option<usize> = None;
    for tag in tags(page) {
        match tag.name.as_str() {
            "form" => {
                open = true;
                forms.push(Form {
                    action: tag.get("action").unwrap_or_default().to_owned(),
                    posts: tag.get("method") == Some("post"),
                    has_file: tag.get("enctype") == Some("multipart/form-data"),
                    fields: Vec::new(),
                });
            }
            "/form" => open = false,
            _ => {}
        }
        let Some(form) = forms.last_mut().filter(|_| open) else { continue };
        let named = |sort: &str, value: &str| {
            tag.get("name").map(|name| Field { name: name.to_owned(), sort: sort.to_owned(), value: value.to_owned() })
        };
        match tag.name.as_str() {
            "input" | "button" => {
                let sort = if tag.name == "button" { "button" } else { tag.get("type").unwrap_or("text") };
                // Of several tiles the first stands for all, and a button is tapped only where there is no other.
                let stands = |field: &Field| !form.fields.iter().any(|own| own.name == field.name && own.sort == field.sort);
                let field = named(sort, tag.get("value").unwrap_or_default()).filter(stands);
                form.fields.extend(field);
            }
            "textarea" => form.fields.extend(named("textarea", &tag.text)),
            "select" => {
                form.fields.extend(named("select", ""));
                chosen = Some(form.fields.len());
            }
            "option" => {
                let value = tag.get("value").unwrap_or(&tag.text).to_owned();
                let field = chosen.and_then(|at| form.fields.get_mut(at - 1));
                if let Some(field) = field.filter(|field| field.value.is_empty() || tag.get("selected").is_some()) {
                    field.value = value;
                }
            }
            "/select" => chosen = None,
            _ => {}
        }
    }
    forms
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_form_is_read_as_a_browser_reads_it() {
        let page = "<a href=\"/x?a=1&#38;b=2#c\">x</a><form method=\"post\" action=\"/say\"><input type=\"hidden\" name=\"seal\" value=\"s\">\
            <input name=\"a\" value=\"&#34;&#60;b&#62;\"><textarea name=\"t\">two\nlines</textarea>\
            <select name=\"s\"><option value=\"\">–</option><option value=\"1\" selected>One</option></select><button name=\"go\" value=\"yes\">Go</button></form>";
        assert_eq!(links(page), ["/x?a=1&b=2"]);
        let form = &forms(page)[0];
        let fields: Vec<(&str, &str, &str)> =
            form.fields.iter().map(|own| (own.name.as_str(), own.sort.as_str(), own.value.as_str())).collect();
        let wanted = [
            ("seal", "hidden", "s"),
            ("a", "text", "\"<b>"),
            ("t", "textarea", "two\nlines"),
            ("s", "select", "1"),
            ("go", "button", "yes"),
        ];
        assert_eq!((form.action.as_str(), form.posts, fields.as_slice()), ("/say", true, &wanted[..]));
    }
}
