//! Tallypail: the compliance and cost ledger of a very small raw-milk dairy.
//!
//! Five rooms:
//!
//! - [`trade`] is the book of the trade: pure rules and sums, no I/O and no clock.
//! - [`store`] is the one room that speaks SQL.
//! - [`pages`] has one file for each thing the farmer does.
//! - [`paper`] turns values into CSV, JSON and PDF bytes.
//! - [`web`] is the kit: answers, forms, sign-in, clock, assets and the talk with a mail server.
//!
//! Beside them stand [`settings`], and the two tasks that run without a page: [`mod@post`] carries the e-mails of a call-back, and
//! [`copies`] copies the ledger to a folder of its own.

pub mod copies;
pub mod pages;
pub mod paper;
pub mod post;
pub mod settings;
pub mod store;
pub mod trade;
pub mod web;
