//! The names of a table's columns, found at once: a log of a hundred thousand rows asks for them millions of times.

/// Names in order, and where each stands.
#[derive(Clone, Debug)]
pub(super) struct Header {
    names: Vec<String>,
    /// What each slot holds: an index of a name, or nothing. There are twice as many as names at least, a power of two; a name
    /// lies in its [slot](Self::slot), or behind it in the next that was free.
    slots: Vec<Option<usize>>,
}

impl Header {
    /// The header of `names`; of those that stand twice the first is found.
    pub(super) fn of(names: Vec<String>) -> Self {
        let slots = vec![None; (2 * names.len() + 1).next_power_of_two()];
        let mut header = Self { names, slots };
        for index in 0..header.names.len() {
            if let Err(free) = header.find(&header.names[index]) {
                header.slots[free] = Some(index);
            }
        }
        header
    }

    /// The names in order.
    pub(super) fn names(&self) -> &[String] {
        &self.names
    }

    /// Where `name` stands.
    pub(super) fn index(&self, name: &str) -> Option<usize> {
        self.find(name).ok()
    }

    /// Where `name` stands, or else the slot that it would lie in.
    fn find(&self, name: &str) -> Result<usize, usize> {
        let mut slot = self.slot(name);
        loop {
            match self.slots[slot] {
                None => return Err(slot),
                Some(index) if self.names[index] == name => return Ok(index),
                Some(_) => slot = (slot + 1) % self.slots.len(),
            }
        }
    }

    /// The slot that `name` lies in, unless another does: by its length and the letters at its ends, which tell most columns of
    /// a book apart.
    fn slot(&self, name: &str) -> usize {
        let letter = |byte: Option<&u8>| byte.copied().map_or(0, usize::from);
        let (first, last) = (name.as_bytes().first(), name.as_bytes().last());
        (name.len() + 3 * letter(first) + 7 * letter(last)) % self.slots.len()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_name_is_found_where_it_first_stands_and_no_other() {
        // More names than letters at their ends, so that slots are shared; one name stands twice.
        let mut names: Vec<String> = (0..300).map(|number| format!("n{number:03}")).collect();
        names.push(names[7].clone());
        let header = Header::of(names.clone());
        for (index, name) in names[..300].iter().enumerate() {
            assert_eq!(header.index(name), Some(index), "{name}");
        }
        for stranger in ["", "n", "n300", "N000", "n0000"] {
            assert_eq!(header.index(stranger), None, "{stranger}");
        }
        assert_eq!(Header::of(Vec::new()).index("n"), None, "no columns");
    }
}
