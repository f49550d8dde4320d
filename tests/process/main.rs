//! The program as a process that is pressed hard: many callers at once over HTTP, killed, asked to end, out of disk.
//!
//! What is left behind is read with SQL of these tests, not by the program's own rules.

mod crash;
mod ending;
mod file;
mod hostile;
mod load;
mod logged;
mod race;
mod rights;
mod server;
mod slow;
