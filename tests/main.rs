//! Every test that goes through the front door.

mod paper;
