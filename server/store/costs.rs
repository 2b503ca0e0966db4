//! Questions about costs.
