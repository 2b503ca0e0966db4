//! Questions about people.
