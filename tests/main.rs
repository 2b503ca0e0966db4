//! Every test that goes through the front door.

#[cfg(test)]
mod costs;
#[cfg(test)]
mod wear;
