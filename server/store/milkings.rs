//! Questions about milkings.
