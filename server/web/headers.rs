//! What every answer tells a browser to forbid, whatever page it is.
//!
//! The reasons are OWASP's (HTTP Security Response Headers Cheat Sheet): nothing here needs another site, a frame, a camera or a
//! place on a map, so nothing of them is allowed.

use axum::{
    extract::Request,
    http::{HeaderName, HeaderValue, header},
    middleware::Next,
    response::Response,
};

/// What a page may load: its own stylesheet and script, and pictures it carries in itself.
const POLICY: &str = "default-src 'none'; style-src 'self'; script-src 'self'; img-src 'self' data:; connect-src 'self'; form-action 'self'; frame-ancestors 'none'; base-uri 'none'";

const ALWAYS: [(HeaderName, &str); 6] = [
    (header::X_CONTENT_TYPE_OPTIONS, "nosniff"),
    (header::REFERRER_POLICY, "same-origin"),
    // For browsers that do not know `frame-ancestors`.
    (header::X_FRAME_OPTIONS, "DENY"),
    (HeaderName::from_static("permissions-policy"), "camera=(), geolocation=(), microphone=(), payment=(), usb=()"),
    (HeaderName::from_static("cross-origin-opener-policy"), "same-origin"),
    (HeaderName::from_static("cross-origin-resource-policy"), "same-origin"),
];

/// For a year the browser asks this name over TLS only. It does not speak for other names under it, which are not ours.
const TLS_ONLY: &str = "max-age=31536000";

/// Sets them. Behind https a browser is told to come that way only; without it, it would be shut out.
pub async fn forbid(secure: bool, request: Request, next: Next) -> Response {
    let mut response = next.run(request).await;
    let headers = response.headers_mut();
    // A kept paper brings a stricter policy of its own.
    headers.entry(header::CONTENT_SECURITY_POLICY).or_insert(HeaderValue::from_static(POLICY));
    for (name, value) in ALWAYS {
        headers.insert(name, HeaderValue::from_static(value));
    }
    if secure {
        headers.insert(header::STRICT_TRANSPORT_SECURITY, HeaderValue::from_static(TLS_ONLY));
    }
    response
}
