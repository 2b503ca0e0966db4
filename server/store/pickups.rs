//! Questions about pickups.
