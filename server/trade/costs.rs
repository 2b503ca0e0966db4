//! What a half-gallon costs.
