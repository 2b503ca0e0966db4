//! Passwords, tokens and seals: what must be random, slow to guess, or the same length of time to compare.

use argon2::{
    Algorithm, Argon2, Params, Version,
    password_hash::{PasswordHasher, PasswordVerifier, phc::PasswordHash},
};
use sha2::{Digest, Sha256};
use std::fmt::Write;
use tokio::sync::{Semaphore, SemaphorePermit};

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

/// Hashes worked out at once, 19 MiB each. Whoever tries in parallel waits in line, so that no try slips in before the one
/// ahead of it has been counted.
static HASHING: Semaphore = Semaphore::const_new(1);

/// One's turn to have a secret tried; the next in line waits until it is given back.
pub async fn turn() -> Option<SemaphorePermit<'static>> {
    HASHING.acquire().await.ok()
}

/// Whether a secret fits a hash, worked out away from the threads that answer pages: hashing takes as long as a page.
pub async fn fits_aside(typed: &str, hash: Option<&str>) -> bool {
    let (typed, hash) = (typed.to_owned(), hash.map(str::to_owned));
    tokio::task::spawn_blocking(move || fits(&typed, hash.as_deref())).await.unwrap_or(false)
}

/// How many minutes to wait after so many tries that failed, of which the first ones cost nothing: twice as long with each
/// failure beyond those, 15 minutes at most.
#[must_use]
pub fn wait_after(failures: i64, free: i64) -> i64 {
    if failures < free { 0 } else { 1i64.checked_shl(u32::try_from(failures - free).unwrap_or(4).min(4)).unwrap_or(16).min(15) }
}

/// So many digits at random, each as likely as any other; nothing where there is no randomness.
#[must_use]
pub fn digits(count: usize) -> Option<String> {
    let mut digits = String::with_capacity(count);
    while digits.len() < count {
        let mut byte = [0u8; 1];
        getrandom::fill(&mut byte).ok()?;
        // 256 is no multiple of ten: what is over is thrown away, or the low digits would come oftener.
        if byte[0] < 250 {
            digits.push(char::from(b'0' + byte[0] % 10));
        }
    }
    Some(digits)
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

/// Whether this is a form's mark. Marks made from something else would be the same for two forms, and the second be lost.
#[must_use]
pub fn is_entry(entry: &str) -> bool {
    uuid::Uuid::parse_str(entry).is_ok()
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

    /// Source: NIST SP 800-63B, 5.1.1.1: a secret chosen at random may be six digits and wholly numeric.
    #[test]
    fn digits_are_six_and_all_ten_come() {
        let many: Vec<String> = (0..200).map(|_| digits(6).unwrap()).collect();
        assert!(many.iter().all(|pin| pin.len() == 6 && pin.chars().all(|c| c.is_ascii_digit())));
        assert!(('0'..='9').all(|digit| many.iter().any(|pin| pin.contains(digit))), "1 200 digits lack one");
    }

    #[test]
    fn waits_double_up_to_a_quarter_of_an_hour() {
        assert_eq!([4, 5, 6, 7, 8, 9, 50].map(|failures| wait_after(failures, 5)), [0, 1, 2, 4, 8, 15, 15]);
    }

    #[test]
    fn tokens_differ_and_compare() {
        assert_ne!(token(), token());
        assert!(same("abc", "abc") && !same("abc", "abd") && !same("", ""));
        assert_eq!(entry_within("x", 1), entry_within("x", 1));
        assert_ne!(entry_within("x", 1), entry_within("x", 2));
    }
}
