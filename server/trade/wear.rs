//! What gear and cows wear out by.
