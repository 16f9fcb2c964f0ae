//! Logs as people keep them: each habit is read right, or refused with the question to answer.
mod dates;
mod files;
mod numbers;
mod second_picks;
mod text;
mod wide;
mod workbooks;
