//! The `dropwise` command.

fn main() {}
