//! Settings: read once, from flags or the environment, each error naming the setting it is about.

use crate::trade::when::{Day, parse_day};
use clap::{Args, Parser, Subcommand};
use std::{net::SocketAddr, path::PathBuf};

const EXAMPLES: &str = "Examples:
  tallypail demo                                       look around on an invented farm
  tallypail --ledger farm.ledger serve                 start your own; open the address it prints
  tallypail --ledger farm.ledger backup stick/a.ledger copy it while it is in use, and check the copy
  tallypail --ledger farm.ledger report cost --as pdf > cost.pdf
  tallypail --ledger farm.ledger report what-if --changes 'price of Hay +20 %'
  tallypail --ledger farm.ledger report trace --lot 6134A-S --as csv
  tallypail --ledger farm.ledger report statement --household M05 --as pdf > m05.pdf

Every setting can be given as a flag or in the environment, as shown beside it.";

/// The compliance and cost ledger of a very small raw-milk dairy.
///
/// Records what was milked, filled, chilled, handed out and spent; says whether a lot may go and why; finds everybody who
/// has milk from a lot; and works out what a half-gallon truly costs. Follow your local raw-milk law: this is a record,
/// not legal, medical or veterinary advice.
#[derive(Debug, Parser)]
#[command(name = "tallypail", version, max_term_width = 100, after_help = EXAMPLES)]
pub struct Settings {
    /// The ledger file. Made if it is not there.
    #[arg(long, global = true, env = "TALLYPAIL_LEDGER", default_value = "tallypail.ledger", value_name = "FILE")]
    pub ledger: PathBuf,
    /// How much to say on standard error: error, warn, info or debug.
    #[arg(long, global = true, env = "TALLYPAIL_LOG", default_value = "warn", value_name = "LEVEL", value_parser = ["error", "warn", "info", "debug"])]
    pub log: String,
    /// What to do.
    #[command(subcommand)]
    pub task: Task,
}

/// What the program can be asked to do.
#[derive(Debug, Subcommand)]
pub enum Task {
    /// Open the sample farm in a throwaway ledger, and print its address and sign-in.
    ///
    /// The sample farm's records end on a fixed day, so the clock starts on that afternoon and runs from there. Nothing
    /// you write is kept when the program stops.
    Demo {
        /// Where to listen.
        #[command(flatten)]
        at: At,
    },
    /// Serve your own ledger. The first visit sets up the farm, its rules and its owner.
    Serve {
        /// Where to listen.
        #[command(flatten)]
        at: At,
    },
    /// Add somebody who may sign in, or give them a new password (asked for on standard input).
    Hand {
        /// Their name.
        name: String,
        /// What they may do.
        #[arg(long, value_parser = ["owner", "helper"])]
        role: String,
    },
    /// Take a farm folder into an empty ledger: all of it, or nothing and a list of every fault.
    Import {
        /// The folder of CSV files.
        folder: PathBuf,
    },
    /// Write every record as a farm folder of CSV files.
    Export {
        /// The folder to write; made if it is not there.
        folder: PathBuf,
    },
    /// Print a report: cost, members, what-if, cover, trace, onhand, books, or a household's statement.
    Report {
        /// Which report.
        #[arg(value_parser = ["cost", "members", "what-if", "cover", "trace", "onhand", "books", "statement"])]
        name: String,
        /// The first day, for the cost and members reports and a statement. Twelve months back, or the start of the year, when it is left out.
        #[arg(long, value_parser = day)]
        from: Option<Day>,
        /// The last day, for the cost and members reports and a statement. The last day with records, or today, when it is left out.
        #[arg(long, value_parser = day)]
        to: Option<Day>,
        /// What is changed, for the what-if report; only what was kept is compared when it is left out.
        #[arg(long)]
        changes: Option<String>,
        /// The lot, for the trace report: its code, like 6134A-S.
        #[arg(long)]
        lot: Option<String>,
        /// The household, for a statement: its number on the clipboard, like M05.
        #[arg(long)]
        household: Option<String>,
        /// The form to print it in.
        #[arg(long = "as", default_value = "csv", value_parser = ["csv", "json", "pdf"])]
        form: String,
    },
    /// Write a consistent copy while the ledger is in use, and check the copy by opening it.
    Backup {
        /// The file to write. It must not be there yet.
        file: PathBuf,
    },
    /// Say whether the ledger is whole: the file, the journal's chain, every record, and the laws between them.
    Check,
}

/// Where to listen.
#[derive(Args, Clone, Debug)]
pub struct At {
    /// Address and port. Anything but 127.0.0.1 lets other machines in.
    #[arg(long, env = "TALLYPAIL_LISTEN", default_value = "127.0.0.1:7720", value_name = "ADDRESS:PORT")]
    pub listen: SocketAddr,
    /// Cookies travel over TLS only: set this behind a proxy that serves https.
    #[arg(long, env = "TALLYPAIL_HTTPS")]
    pub https: bool,
}

fn day(typed: &str) -> Result<Day, String> {
    parse_day(typed).map_err(|fault| fault.to_string())
}
