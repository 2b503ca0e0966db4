//! Every test that goes through the front door, a file for each subject.

#[cfg(test)]
mod any_farm;
#[cfg(test)]
mod around;
#[cfg(test)]
mod asked;
#[cfg(test)]
mod backup;
#[cfg(test)]
mod bad_day;
#[cfg(test)]
mod binder;
#[cfg(test)]
mod boarding;
#[cfg(test)]
mod book_slips;
#[cfg(test)]
mod book_sums;
#[cfg(test)]
mod books;
#[cfg(test)]
mod browser;
#[cfg(test)]
mod calendar;
#[cfg(test)]
mod calendar_file;
#[cfg(test)]
mod called;
#[cfg(test)]
mod check;
#[cfg(test)]
mod chill;
#[cfg(test)]
mod colonies;
#[cfg(test)]
mod cooling;
#[cfg(test)]
mod copies;
#[cfg(test)]
mod cost_outside;
#[cfg(test)]
mod cost_parts;
#[cfg(test)]
mod cost_report;
#[cfg(test)]
mod cost_slips;
#[cfg(test)]
mod costbooks;
#[cfg(test)]
mod costs;
#[cfg(test)]
mod cow_rules;
#[cfg(test)]
mod crawler;
#[cfg(test)]
mod deciding;
#[cfg(test)]
mod documents;
#[cfg(test)]
mod doors;
#[cfg(test)]
mod due_today;
#[cfg(test)]
mod empties;
#[cfg(test)]
mod endurance;
#[cfg(test)]
mod erasing;
#[cfg(test)]
mod erasing_others;
#[cfg(test)]
mod erasing_words;
#[cfg(test)]
mod events;
#[cfg(test)]
mod farm;
#[cfg(test)]
mod faults;
#[cfg(test)]
mod folder;
#[cfg(test)]
mod frequency;
#[cfg(test)]
mod fuzz;
#[cfg(test)]
mod hand_out;
#[cfg(test)]
mod health;
#[cfg(test)]
mod held_cows;
#[cfg(test)]
mod herd;
#[cfg(test)]
mod jar_page;
#[cfg(test)]
mod kept_out;
#[cfg(test)]
mod known_then;
#[cfg(test)]
mod lab_page;
#[cfg(test)]
mod late_result;
#[cfg(test)]
mod ledger;
#[cfg(test)]
mod limits;
#[cfg(test)]
mod lot_page;
#[cfg(test)]
mod mail;
#[cfg(test)]
mod mail_asked;
#[cfg(test)]
mod mail_program;
#[cfg(test)]
mod may_it_go;
#[cfg(test)]
mod members_page;
#[cfg(test)]
mod migrations;
#[cfg(test)]
mod mixing;
#[cfg(test)]
mod mornings;
#[cfg(test)]
mod never_better;
#[cfg(test)]
mod newcomer;
#[cfg(test)]
mod not_freed;
#[cfg(test)]
mod not_freed_by_record;
#[cfg(test)]
mod one_cow;
#[cfg(test)]
mod one_june;
#[cfg(test)]
mod one_lot;
#[cfg(test)]
mod own;
#[cfg(test)]
mod own_page;
#[cfg(test)]
mod own_privacy;
#[cfg(test)]
mod own_shelf;
#[cfg(test)]
mod packet;
#[cfg(test)]
mod packing;
#[cfg(test)]
mod paper;
#[cfg(test)]
mod pass;
mod pass_made;
#[cfg(test)]
mod people;
#[cfg(test)]
mod pickups;
#[cfg(test)]
mod pictures;
#[cfg(test)]
mod pictures_of_anything;
#[cfg(test)]
mod places_compared;
#[cfg(test)]
mod program;
#[cfg(test)]
mod promised;
#[cfg(test)]
mod published_costs;
#[cfg(test)]
mod reached;
#[cfg(test)]
mod restore;
#[cfg(test)]
mod retests;
#[cfg(test)]
mod rooms;
#[cfg(test)]
mod routes;
#[cfg(test)]
mod rule_slips;
#[cfg(test)]
mod rules_page;
#[cfg(test)]
mod sharing;
#[cfg(test)]
mod signing_in;
#[cfg(test)]
mod slips;
#[cfg(test)]
mod spreadsheet;
#[cfg(test)]
mod standing;
#[cfg(test)]
mod starts;
#[cfg(test)]
mod statements;
#[cfg(test)]
mod stock;
#[cfg(test)]
mod tansyditch;
#[cfg(test)]
mod templates;
#[cfg(test)]
mod thermometers;
#[cfg(test)]
mod tie_picture;
#[cfg(test)]
mod today;
#[cfg(test)]
mod trace;
#[cfg(test)]
mod trace_page;
#[cfg(test)]
mod traced_outside;
#[cfg(test)]
mod treated;
#[cfg(test)]
mod twenty;
#[cfg(test)]
mod warm;
#[cfg(test)]
mod ways;
#[cfg(test)]
mod wear;
#[cfg(test)]
mod weekdays;
#[cfg(test)]
mod what_if;
#[cfg(test)]
mod what_if_page;
