//! Which keys the file itself holds: a checked description no longer tells.

/// The keys of a description as they stand in its file.
#[derive(Clone, Debug, Default)]
pub struct Stated(toml::Table);

impl Stated {
    /// The keys of a text that a description was read from. What is no TOML states nothing.
    pub fn of(text: &str) -> Self {
        Self(text.parse().unwrap_or_default())
    }

    /// Whether the file holds this key, written with its table: `bolt.class`.
    pub fn has(&self, key: &str) -> bool {
        self.value(key).is_some()
    }

    /// The words that the file holds under a key.
    pub fn words(&self, key: &str) -> Option<&str> {
        self.value(key)?.as_str()
    }

    fn value(&self, key: &str) -> Option<&toml::Value> {
        let mut parts = key.split('.');
        let first = parts.next().and_then(|part| self.0.get(part));
        parts.fold(first, |at, part| at?.get(part))
    }
}
