//! Every test that goes through the front door, a file for each subject.

#[cfg(test)]
mod chill;
#[cfg(test)]
mod costs;
#[cfg(test)]
mod herd;
#[cfg(test)]
mod paper;
#[cfg(test)]
mod tansyditch;
#[cfg(test)]
mod trace;
#[cfg(test)]
mod wear;
