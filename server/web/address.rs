//! The address under which a phone reaches this program: as the browser that asks sees it, or as somebody typed it.

use crate::trade::in_an_address;
use axum::http::{HeaderMap, header};

/// The longest address taken.
const LONGEST: usize = 120;

/// A page of ours with what it is asked, whatever letters stand in it (RFC 3986).
#[must_use]
pub fn asking(path: &str, asked: &[(String, String)]) -> String {
    let asked: Vec<String> = asked.iter().map(|(name, value)| format!("{}={}", in_an_address(name), in_an_address(value))).collect();
    if asked.is_empty() { path.to_owned() } else { format!("{path}?{}", asked.join("&")) }
}

/// The address of a page as the browser that asks sees it; nothing when what it sent is no name of a machine. Anybody can
/// write anything in that line, so it is read strictly before it is printed on a paper (RFC 9110, 7.2).
#[must_use]
pub fn seen(headers: &HeaderMap, secure: bool, path: &str) -> Option<String> {
    let host = headers.get(header::HOST)?.to_str().ok().filter(|host| is_host(host))?;
    Some(format!("{}://{host}{path}", if secure { "https" } else { "http" }))
}

/// A whole address as somebody typed it.
///
/// # Errors
/// A sentence that says how one looks.
pub fn typed(text: &str) -> Result<String, String> {
    let text = text.trim();
    let rest = text.strip_prefix("http://").or_else(|| text.strip_prefix("https://"));
    let (host, path) = rest.map_or(("", ""), |rest| rest.split_at(rest.find('/').unwrap_or(rest.len())));
    let plain = path.chars().all(|c| c.is_ascii_alphanumeric() || "/-._~".contains(c));
    if text.len() <= LONGEST && is_host(host) && plain {
        Ok(text.to_owned())
    } else {
        Err("That is no address a phone can open. Write it whole, like http://192.168.1.20:8080/own.".to_owned())
    }
}

/// A name or number of a machine, with its port if it has one (RFC 3986, 3.2.2).
fn is_host(host: &str) -> bool {
    let (name, port) = match host.rsplit_once(':') {
        Some((name, port)) if !port.ends_with(']') => (name, Some(port)),
        _ => (host, None),
    };
    let is_name = |name: &str| {
        name.starts_with(|c: char| c.is_ascii_alphanumeric()) && name.chars().all(|c| c.is_ascii_alphanumeric() || c == '-' || c == '.')
    };
    let is_six = |name: &str| name.chars().all(|c| c.is_ascii_hexdigit() || c == ':') && name.contains(':');
    let known = match name.strip_prefix('[').and_then(|name| name.strip_suffix(']')) {
        Some(six) => is_six(six),
        None => is_name(name),
    };
    host.len() <= 100 && known && port.is_none_or(|port| port.parse::<u16>().is_ok() && !port.starts_with('+'))
}

#[cfg(test)]
mod tests {
    use super::*;
    use axum::http::HeaderValue;

    /// Source: RFC 3986, 3.2.2, host; RFC 5737 and RFC 3849 for addresses kept free for examples.
    #[test]
    fn only_a_machine_s_name_is_printed() {
        for host in ["192.0.2.7:8080", "farm.example", "localhost", "[2001:db8::7]:8080", "farm.example:443"] {
            let headers = HeaderMap::from_iter([(header::HOST, HeaderValue::from_str(host).unwrap())]);
            assert_eq!(seen(&headers, false, "/own"), Some(format!("http://{host}/own")));
            assert_eq!(seen(&headers, true, "/own"), Some(format!("https://{host}/own")));
        }
        for host in
            ["", "a b", "farm.example/x", "me@farm.example", "farm.example:99999", "<b>", "[x]", "-a", "farm.example:+80", "farm.example:"]
        {
            let headers = HeaderMap::from_iter([(header::HOST, HeaderValue::from_str(host).unwrap())]);
            assert_eq!(seen(&headers, false, "/own"), None, "{host}");
        }
        assert_eq!(seen(&HeaderMap::new(), false, "/own"), None);
    }

    #[test]
    fn an_address_is_typed_whole() {
        assert_eq!(typed(" https://farm.example/own ").as_deref(), Ok("https://farm.example/own"));
        for text in [
            "",
            "farm.example",
            "javascript:alert(1)",
            "http://",
            "http:///own",
            "http://a b/own",
            "https://farm.example/own?x=<",
            "ftp://farm.example/",
        ] {
            assert!(typed(text).is_err(), "{text}");
        }
        assert!(typed(&format!("http://farm.example/{}", "x".repeat(500))).is_err());
    }
}
