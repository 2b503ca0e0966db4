//! Passwords, tokens and seals: what must be random, slow to guess, or the same length of time to compare.

use argon2::{
    Algorithm, Argon2, Params, Version,
    password_hash::{PasswordHasher, PasswordVerifier, phc::PasswordHash},
};
use sha2::{Digest, Sha256};
use std::fmt::Write;

/// The shortest password taken. OWASP's cheat sheet on authentication asks for at least 8 with a second factor, more
/// without one; length does more than odd characters.
pub const SHORTEST_PASSWORD: usize = 10;

/// argon2id at OWASP's Password Storage Cheat Sheet figures: 19 MiB, two passes, one lane.
fn argon2() -> Argon2<'static> {
    let params = Params::new(19 * 1024, 2, 1, None).unwrap_or_default();
    Argon2::new(Algorithm::Argon2id, Version::V0x13, params)
}

/// Hashes a password; slow on purpose, so never on the thread that answers.
#[must_use]
pub fn hash(password: &str) -> Option<String> {
    argon2().hash_password(password.as_bytes()).ok().map(|hash| hash.to_string())
}

/// Whether a password fits a hash. A name nobody has is checked against a hash of its own, so that it takes as long.
#[must_use]
pub fn fits(password: &str, hash: Option<&str>) -> bool {
    const NOBODY: &str = "$argon2id$v=19$m=19456,t=2,p=1$bm9ib2R5aGFzdGhpc3NhbHQ$Zm9yIG5vYm9keSBhbmQgbm90aGluZyBhdCBhbGwhISE";
    let known = hash.is_some();
    let fits = PasswordHash::new(hash.unwrap_or(NOBODY)).is_ok_and(|hash| argon2().verify_password(password.as_bytes(), &hash).is_ok());
    known && fits
}

/// A token nobody can guess: 32 random bytes, in hexadecimal.
#[must_use]
pub fn token() -> String {
    let mut bytes = [0u8; 32];
    // Without randomness nobody can be told apart, so an empty token (which never matches) is the only honest answer.
    if getrandom::fill(&mut bytes).is_err() { String::new() } else { hex(&bytes) }
}

/// A new entry mark for a form.
#[must_use]
pub fn entry() -> String {
    uuid::Uuid::new_v4().to_string()
}

/// The mark of the `nth` record kept by one form, made from the form's own, so that sending it twice gives the same.
#[must_use]
pub fn entry_within(entry: &str, nth: usize) -> String {
    let digest = Sha256::digest(format!("{entry}/{nth}"));
    let mut bytes = [0u8; 16];
    bytes.copy_from_slice(&digest[..16]);
    uuid::Builder::from_custom_bytes(bytes).into_uuid().to_string()
}

/// What is kept of a token: enough to know it again, not enough to use it.
#[must_use]
pub fn remembered(token: &str) -> String {
    hex(&Sha256::digest(token.as_bytes()))
}

/// Whether two secrets are the same, in a time that does not depend on where they differ.
#[must_use]
pub fn same(one: &str, other: &str) -> bool {
    !one.is_empty() && one.len() == other.len() && one.bytes().zip(other.bytes()).fold(0, |differs, (a, b)| differs | (a ^ b)) == 0
}

fn hex(bytes: &[u8]) -> String {
    bytes.iter().fold(String::with_capacity(bytes.len() * 2), |mut hex, byte| {
        let _ = write!(hex, "{byte:02x}");
        hex
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Source: OWASP Password Storage Cheat Sheet: Argon2id, m = 19 MiB, t = 2, p = 1.
    #[test]
    fn the_hash_says_its_own_figures() {
        let hash = hash("correct horse battery").unwrap();
        assert!(hash.starts_with("$argon2id$v=19$m=19456,t=2,p=1$"), "{hash}");
        assert!(fits("correct horse battery", Some(&hash)));
        assert!(!fits("correct horse batterz", Some(&hash)));
        assert!(!fits("anything", None));
    }

    #[test]
    fn tokens_differ_and_compare() {
        assert_ne!(token(), token());
        assert!(same("abc", "abc") && !same("abc", "abd") && !same("", ""));
        assert_eq!(entry_within("x", 1), entry_within("x", 1));
        assert_ne!(entry_within("x", 1), entry_within("x", 2));
    }
}
