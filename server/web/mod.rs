//! The kit: doors and who may open them, forms, sign-in tokens, the clock and the assets. Knows nothing of milk.

pub mod address;
pub mod answer;
pub mod assets;
pub mod clock;
pub mod form;
pub mod headers;
pub mod limit;
pub mod patient;
pub mod rooms;
pub mod secret;
pub mod smtp;
pub mod upload;
pub mod visitor;
