//! Whole small seasons: what is kept, what is set aside, what is said.
mod climate;
mod diary;
mod faults;
mod habits;
mod harvest;
mod invariance;
mod plan;
mod root_zone;
mod workbooks;
