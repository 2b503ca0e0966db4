//! Questions about trace.
