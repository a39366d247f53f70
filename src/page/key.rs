//! The key of a page that others on the network may open: whoever has it was given it at the machine.

use std::fmt;

use crate::error::{Error, Result};

/// A random key of 128 bits, as 32 hexadecimal digits; another one each time that the page is served.
#[derive(Clone, PartialEq, Eq)]
pub struct Key(String);

impl Key {
    /// A new one, from the system's own source of chance.
    ///
    /// # Errors
    /// A system without such a source.
    pub fn new() -> Result<Self> {
        let mut bytes = [0; 16];
        getrandom::fill(&mut bytes).map_err(|cause| {
            Error::input(format!("this machine has no source of chance: {cause}"))
                .mend("serve this machine alone")
        })?;
        Ok(Self(bytes.map(|byte| format!("{byte:02x}")).concat()))
    }

    /// Whether `given` is the key; takes as long for a near miss as for a far one.
    pub(super) fn is(&self, given: &str) -> bool {
        let (own, given) = (self.0.as_bytes(), given.as_bytes());
        let differ = own
            .iter()
            .zip(given)
            .fold(0, |bits, (one, other)| bits | (one ^ other));
        own.len() == given.len() && differ == 0
    }

    /// As it stands in an address.
    pub fn as_str(&self) -> &str {
        &self.0
    }
}

impl fmt::Debug for Key {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("Key(…)")
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_key_opens_by_itself_alone() {
        let key = Key::new().expect("a source of chance");
        assert_eq!(key.as_str().len(), 32, "128 bits");
        assert!(key.is(key.as_str()), "itself");
        assert!(!key.is(""), "nothing");
        assert!(!key.is(&key.as_str()[..31]), "a part of it");
        assert!(!key.is(&format!("{}0", key.as_str())), "more than it");
        let other = Key::new().expect("a source of chance");
        assert!(!key.is(other.as_str()), "another");
        assert!(
            !format!("{key:?}").contains(key.as_str()),
            "no log tells it"
        );
    }
}
