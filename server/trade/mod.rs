//! The book of the trade: pure rules and sums. It reads no file, no clock and no network, so it can only be wrong in
//! ways a test can show. A chapter uses only the chapters listed before it.

/// What is said back of what was typed.
pub mod said;
pub use said::{Fault, capital, in_an_address, short};

/// Sharing out whole things so that the parts add up.
pub mod apportion;

/// Money in whole cents.
pub mod money;

/// Temperature and the weight of milk.
pub mod measure;

/// A picture as a value: bars, lines and texts.
pub mod picture;

/// The four words of a verdict.
pub mod words;

/// Jars by size.
pub mod jars;

/// Moments and days on the farm's clock.
pub mod when;

/// The copies of the ledger: their names, when the next is due, which may go.
pub mod copies;

/// Lot codes and their check character.
pub mod codes;

/// What to say of a name or a code that nobody knows.
pub mod near;

/// The ways a household can be reached.
pub mod reach;

/// The number a household goes by.
pub mod numbers;

/// Finding a text in another to take it out.
pub mod outwords;

/// What there is to say about a field of a form.
pub mod remarks;

/// A report as a value, before anything draws it.
pub mod figures;

/// The chill steps of a rule.
pub mod steps;

/// What a lab's figure is counted in.
pub mod units;

/// The names a lab's tests go by.
pub mod lab_names;

/// What a lab tests for.
pub mod analytes;

/// A lab's figure, its unit, and one result.
pub mod lab;

/// Counts of colonies: their mean, and how wide they are.
pub mod colonies;

/// The limits of a rule.
pub mod limits;

/// How one figure stands against one limit.
pub mod comparing;

/// How results stand against a limit together.
pub mod standing;

/// What is known from the lab, and what one result alone says.
pub mod known;

/// What the lab's results say about a lot.
pub mod tested;

/// How often something must be tested, and when it is due.
pub mod frequency;

/// Whether something is tested often enough.
pub mod kept;

/// How much milk or how many cows a rule allows.
pub mod caps;

/// What officials and customers ask for, and by when.
pub mod notices;

/// The ways milk leaves the farm.
pub mod channels;

/// What a household needs before it may have milk.
pub mod needs;

/// Part of a share, and hundredths of a jar.
pub mod parts;

/// What a bale, a bag or a box holds, and amounts of what is kept in a store.
pub mod packs;

/// What is changed in a what-if.
pub mod what_if;

/// The papers between the farm and each household, as one register.
pub mod agreements;

/// Which word of a line of rules could not be read.
pub mod misread;

/// What is known of the rules of each place.
pub mod rules;

/// The rules a farm follows, and from when to when.
pub mod followed;

/// A rule set in words a farmer reads.
pub mod told;

/// What the readings say about the chilling of a lot.
pub mod coldness;

/// The chilling of a lot as a whole.
pub mod chilled;

/// How far a thermometer is known to be off.
pub mod thermometers;

/// Whether milk was cold in time.
pub mod chill;

/// A cooling curve, as an estimate.
pub mod cooling;

/// The clocks a cow's milk stands under.
pub mod clocks;

/// Where a cow stands in the herd.
pub mod herd;

/// Strip tests of a cow's quarters.
pub mod strips;

/// What the scale, the dipstick or the jar line said.
pub mod milkings;

/// What a record is, and how a cell is read and shown.
pub mod records;

/// Slips in a set of rules, beside the set before it.
pub mod rule_slips;

/// Every kind of record.
pub mod kinds;

/// Moving money between accounts, and which sorts of it there are.
pub mod transfers;

/// What each household is promised on a day.
pub mod promises;

/// Slips to ask about before a record is kept.
pub mod slips;

/// Slips that show only beside what is written already.
pub mod beside;

/// Slips on a lab's paper.
pub mod lab_slips;

/// Slips in what is written of a household.
pub mod household_slips;

/// The sealed journal.
pub mod journal;

/// Erasing a name once the law no longer asks for it.
pub mod erasing;

/// The e-mails of a call-back.
pub mod post;

/// All the records of a farm, and the laws between them.
pub mod book;

/// Whether the jars of a lot add up.
pub mod balance;

/// How far trouble spreads.
pub mod trace;

/// Which part of the milk a spread can reach.
pub mod reached;

/// Where a trace may begin.
pub mod starts;

/// Which jars cannot be excluded when somebody fell ill.
pub mod exposure;

/// Which other lots to suspect when something is found in one.
pub mod bracket;

/// A fridge found warm.
pub mod warm;

/// What can be found about a lot.
pub mod findings;

/// How a finding is said.
pub mod saying;

/// What one cow's milk brings into a lot.
pub mod poured;

/// What the owner decided about a lot.
pub mod decisions;

/// Whether a lot may go out.
pub mod verdict;

/// A result that came when the milk was gone, and jars that are out although their lot is kept back.
pub mod late;

/// What anybody who reads a code off a lid is told.
pub mod jar;

/// What there is for the owner to decide about a lot.
pub mod deciding;

/// Where a point of a picture stands.
pub mod plot;

/// How a lot cooled, as a picture and an estimate.
pub mod curve;

/// What a verdict rests on, part by part.
pub mod rests;

/// What happened to a lot besides its facts.
pub mod lot_history;

/// Everything about one lot on a paper.
pub mod lotsheet;

/// Lots made from lots, and what stands on a lid.
pub mod mixing;

/// Sharing out a day's jars when there are fewer than promised.
pub mod sharing;

/// Which lot somebody gets, and what is refused, asked about or marked.
pub mod pickups;

/// Packing a pickup day.
pub mod packing;

/// A day as it was packed, and what differed.
pub mod packed;

/// What of a packed crate still stands.
pub mod fetched;

/// Empty jars that households owe.
pub mod empties;

/// What is promised against what the herd makes.
pub mod forecast;

/// The look ahead at promises, on one sheet.
pub mod promise_sheet;

/// What a household reads and writes by its number.
pub mod own;

/// What is behind some lots.
pub mod behind;

/// Where every jar of some lots is.
pub mod whereabouts;

/// Who has jars of some lots.
pub mod recipients;

/// How far trouble spreads, as a picture.
pub mod tie_picture;

/// Calling milk back, as one sheet.
pub mod callback;

/// What somebody who rings about illness is asked.
pub mod complaint;

/// What a call-back says, and what has no place in it.
pub mod wording;

/// A call-back under way: whom it has reached, and what became of their jars.
pub mod called;

/// A call-back from its opening to its end.
pub mod case;

/// Every jar of a call-back in one place, or missing by name.
pub mod accounted;

/// The papers of a call-back.
pub mod packet;

/// A call-back for practice, timed and graded.
pub mod practice;

/// What happened to some lots, event by event.
pub mod events;

/// The events of some lots as a sheet that can be sorted.
pub mod eventsheet;

/// Whose milk stays out of the can, and when she joins.
pub mod cows;

/// One thing that has to be done by a day.
pub mod due;

/// When what is tested again and again is due.
pub mod retests;

/// Everything that is due, by day.
pub mod calendar;

/// One line of the first page.
pub mod matters;

/// Bottles of water and swabs in which something was found.
pub mod surroundings;

/// What only the owner's list looks at.
pub mod owners;

/// What is due and what is wrong today.
pub mod today;

/// A cow's last fourteen days of milk.
pub mod fortnight;

/// What gear and cows wear out by.
pub mod wear;

/// The lines of an account of costs.
pub mod lines;

/// What a half-gallon costs.
pub mod costs;

/// Costs by cow, by household, and the jars it takes to break even.
pub mod splits;

/// The days a report of costs looks at.
pub mod months;

/// On what terms milk reaches a household.
pub mod terms;

/// Weeks in which the farm had nothing for a household.
pub mod missed;

/// A month's boarding, and what is made up for.
pub mod boarding;

/// What is asked about an entry in the books before it is kept.
pub mod entries;

/// What looks odd about an entry beside the books that stand.
pub mod entry_slips;

/// Who owes, and for how long.
pub mod owing;

/// A household's statement.
pub mod statement;

/// The books on one sheet, the journal and the trial balance.
pub mod booksheet;

/// Jars that are lost, and what they would have brought.
pub mod loss;

/// A fridge found warm, on one sheet, and the words about a short week.
pub mod warm_sheet;

/// Milk of a treated cow in the can, on one sheet.
pub mod treated_sheet;

/// Where the milk of a span went.
pub mod went;

/// Electricity and heat.
pub mod current;

/// What cows need to eat, and feed without its water and waste.
pub mod need;

/// Cream and skim from one pail.
pub mod joint;

/// What a cost rests on: tickets, gear, minutes, assumptions.
pub mod bills;

/// What is in a store and what it is worth.
pub mod stock;

/// What is bought and lies in a store until it is used.
pub mod stores;

/// The usual week.
pub mod usual;

/// Electricity where no bill says it.
pub mod power;

/// Milk a new farm guesses until it is written down.
pub mod guessed;

/// What the books hold, as an account of a span.
pub mod account;

/// The books with a driver changed.
pub mod drivers;

/// What must come in to cover the cost.
pub mod cover;

/// What moves the price most.
pub mod swings;

/// A what-if as it is typed on its page.
pub mod supposed;

/// Slips in what a cost rests on, beside what is written already.
pub mod cost_slips;

/// The first questions of a farm with no records, and the records their answers make.
pub mod newcomer;

/// Pictures of figures: parts, months, weeks, jobs, what moves a cost, and what moved it.
pub mod drawn;

/// The report of what a half-gallon costs.
pub mod costsheet;

/// Now beside a what-if, and the what-ifs kept beside each other.
pub mod compared;

/// What a half-gallon takes, on one plain sheet for members.
pub mod takes;

/// What one figure of that report is made of.
pub mod opened;

/// What the farm's own records leave open.
pub mod gaps;

/// The binder of a span, for an inspector.
pub mod binder;

/// An inspector's pass.
pub mod passes;
