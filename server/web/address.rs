//! The address under which a phone reaches this program: as the browser that asks sees it, or as somebody typed it.

use crate::trade::in_an_address;
use axum::http::{HeaderMap, header};
use std::net::IpAddr;

/// A machine in somebody's own network, by a number kept free for examples (RFC 5737).
pub const EXAMPLE: &str = "http://192.0.2.10:7720";
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

/// The whole address of a household's way in as somebody typed it.
///
/// # Errors
/// A sentence that says how one looks.
pub fn typed(text: &str) -> Result<String, String> {
    typed_for(text, "/own")
}

/// The whole address of one of our pages as somebody typed it.
///
/// # Errors
/// A sentence that says how one looks.
pub fn typed_for(text: &str, page: &str) -> Result<String, String> {
    let text = text.trim();
    let rest = text.strip_prefix("http://").or_else(|| text.strip_prefix("https://"));
    let (host, path) = rest.map_or(("", ""), |rest| rest.split_at(rest.find('/').unwrap_or(rest.len())));
    let plain = path.chars().all(|c| c.is_ascii_alphanumeric() || "/-._~".contains(c));
    if text.len() <= LONGEST && is_host(host) && plain {
        Ok(text.to_owned())
    } else {
        Err(format!("That is no address a phone can open. Write it whole, like {EXAMPLE}{page}."))
    }
}

/// Whether an address opens only on the machine that serves it, and on no phone (RFC 5735 and RFC 4291, loopback; RFC 6761, localhost).
#[must_use]
pub fn is_of_this_machine(text: &str) -> bool {
    let rest = text.trim().strip_prefix("http://").or_else(|| text.trim().strip_prefix("https://")).unwrap_or_default();
    let host = rest.split('/').next().unwrap_or_default();
    let name = if host.ends_with(']') { host } else { host.rsplit_once(':').map_or(host, |(name, _)| name) };
    let name = name.trim_start_matches('[').trim_end_matches(']').to_ascii_lowercase();
    name == "localhost" || name.ends_with(".localhost") || name.parse::<IpAddr>().is_ok_and(|own| own.is_loopback())
}

/// What is said of an address that opens only on this machine, on a paper for somebody else.
#[must_use]
pub fn only_here(page: &str) -> String {
    format!("This address opens only on this machine. Put the machine’s address in your network here, like {EXAMPLE}{page}.")
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
        assert!(typed_for("x", "/pass").unwrap_err().ends_with("/pass.") && typed("x").unwrap_err().ends_with("/own."));
    }

    /// Source: RFC 5735, 3 and RFC 4291, 2.5.3 for loopback; RFC 6761, 6.3 for the name.
    #[test]
    fn an_address_that_leads_nowhere_but_here_is_known() {
        for text in
            ["http://127.0.0.1:8080/pass", "http://localhost/pass", "https://LOCALHOST:8080", "http://[::1]:8080/pass", "http://127.3.2.1/"]
        {
            assert!(is_of_this_machine(text), "{text}");
        }
        for text in [
            "",
            "localhost",
            "http://192.0.2.10:8080/pass",
            "http://farm.example/localhost",
            "http://localhost.example/",
            "http://[2001:db8::7]/",
        ] {
            assert!(!is_of_this_machine(text), "{text}");
        }
    }
}
