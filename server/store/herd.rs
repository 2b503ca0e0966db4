//! Questions about herd.
