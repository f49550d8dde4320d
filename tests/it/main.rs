//! Behaviour through the public faces: API, pages, stored data, JSON, command line.

mod export;
mod wire;
