//! Slowing whoever guesses at a secret: by the name it belongs to and by the address the tries come from. The tries are kept in the
//! ledger, so a program that is started again has forgotten none. It owns no door.

use super::App;
use crate::{
    store::{Failure, hands},
    trade::when::Moment,
    web::secret,
};
use axum::{extract::ConnectInfo, http::Extensions};
use std::net::SocketAddr;

/// Tries that cost nothing, by name and by address, within the time they are remembered.
const FREE_BY_NAME: i64 = 5;
const FREE_BY_ADDRESS: i64 = 20;
/// For how long failures make somebody wait, in minutes.
const REMEMBERED: i64 = 30;
/// After so many that do not fit within a day, a PIN or a pass is shut.
pub const MOST_A_DAY: i64 = 10;

/// Where a request comes from.
#[must_use]
pub fn address_of(extensions: &Extensions) -> String {
    let connected = extensions.get::<ConnectInfo<SocketAddr>>();
    connected.map_or_else(|| "here".to_owned(), |ConnectInfo(address)| address.ip().to_string())
}

/// How many minutes somebody must wait, by the name tried and by their address.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn must_wait(app: &App, [by_name, by_address]: [&str; 2], now: Moment) -> Result<Option<i64>, Failure> {
    let mut db = app.ledger.read().await?;
    for (who, free) in [(by_name, FREE_BY_NAME), (by_address, FREE_BY_ADDRESS)] {
        let (count, last) = hands::failures(&mut db, who, now.plus_minutes(-REMEMBERED)).await?;
        let left = secret::wait_after(count, free) - now.minutes_since(last);
        if count >= free && left > 0 {
            return Ok(Some(left));
        }
    }
    Ok(None)
}
