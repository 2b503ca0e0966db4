//! An address as a square of dark and light that a phone's camera reads.

use qrcodegen::{QrCode, QrCodeEcc};
use std::fmt::Write;

/// The light border a reader needs, in modules (ISO/IEC 18004, quiet zone).
pub const BORDER: i32 = 4;

/// The square.
#[derive(Clone)]
pub struct Qr(QrCode);

impl Qr {
    /// The square of an address; nothing when it is too long for one. A sixth of it may be smudged and it still reads.
    #[must_use]
    pub fn of(address: &str) -> Option<Qr> {
        QrCode::encode_text(address, QrCodeEcc::Medium).ok().map(Qr)
    }

    /// Modules along one edge, without the border.
    #[must_use]
    pub fn side(&self) -> i32 {
        self.0.size()
    }

    /// Modules along one edge, with the border.
    #[must_use]
    pub fn whole(&self) -> i32 {
        self.side() + BORDER * 2
    }

    /// Whether a module is dark.
    #[must_use]
    pub fn is_dark(&self, across: i32, down: i32) -> bool {
        self.0.get_module(across, down)
    }

    /// The dark modules as runs from left to right: where each begins, how far down, and how long it is.
    #[must_use]
    pub fn runs(&self) -> Vec<(i32, i32, i32)> {
        let mut runs: Vec<(i32, i32, i32)> = Vec::new();
        for down in 0..self.side() {
            for across in (0..self.side()).filter(|across| self.is_dark(*across, down)) {
                match runs.last_mut() {
                    Some((from, own, long)) if *own == down && *from + *long == across => *long += 1,
                    _ => runs.push((across, down, 1)),
                }
            }
        }
        runs
    }

    /// The dark modules as the path of a drawing whose edge is `whole()` long (SVG 2, path data).
    #[must_use]
    pub fn path(&self) -> String {
        self.runs().into_iter().fold(String::new(), |mut path, (across, down, long)| {
            let _ = write!(path, "M{} {}h{long}v1h-{long}z", across + BORDER, down + BORDER);
            path
        })
    }
}
