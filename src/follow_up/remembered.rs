//! A thing that a state remembers for good, with the bytes that it is kept as. A long history is kept
//! anew at each act, and nearly all of it as it was: those bytes are copied instead of worked out.
//!
//! Never here: what is remembered.
//! Promises: the bytes are those of the thing as it is; who changes it, by whatever way, drops them.
//! What a person reads (JSON) is the thing itself.

use std::fmt;
use std::marker::PhantomData;
use std::ops::{Deref, DerefMut};
use std::sync::{Arc, OnceLock};

use serde::de::{DeserializeOwned, Visitor};
use serde::ser::Error as _;
use serde::{Deserialize, Deserializer, Serialize, Serializer};

/// A thing with the bytes that it is kept as.
#[derive(Clone)]
pub struct Remembered<T> {
    thing: T,
    /// None until they are asked for, or since the thing was changed.
    bytes: OnceLock<Arc<[u8]>>,
}

impl<T> From<T> for Remembered<T> {
    fn from(thing: T) -> Self {
        Self { thing, bytes: OnceLock::new() }
    }
}

impl<T> Deref for Remembered<T> {
    type Target = T;

    fn deref(&self) -> &T {
        &self.thing
    }
}

impl<T> DerefMut for Remembered<T> {
    fn deref_mut(&mut self) -> &mut T {
        self.bytes.take();
        &mut self.thing
    }
}

impl<T: PartialEq> PartialEq for Remembered<T> {
    fn eq(&self, other: &Self) -> bool {
        self.thing == other.thing
    }
}

impl<T: Eq> Eq for Remembered<T> {}

impl<T: fmt::Debug> fmt::Debug for Remembered<T> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.thing.fmt(f)
    }
}

impl<T: Serialize> Serialize for Remembered<T> {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        if serializer.is_human_readable() {
            return self.thing.serialize(serializer);
        }
        if let Some(bytes) = self.bytes.get() {
            return serializer.serialize_bytes(bytes);
        }
        let bytes = postcard::to_allocvec(&self.thing).map_err(S::Error::custom)?;
        serializer.serialize_bytes(self.bytes.get_or_init(|| bytes.into()))
    }
}

impl<'de, T: DeserializeOwned> Deserialize<'de> for Remembered<T> {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        if deserializer.is_human_readable() {
            return T::deserialize(deserializer).map(Self::from);
        }
        deserializer.deserialize_bytes(Bytes(PhantomData))
    }
}

/// Reads a thing from its bytes, and keeps them.
struct Bytes<T>(PhantomData<T>);

impl<T: DeserializeOwned> Visitor<'_> for Bytes<T> {
    type Value = Remembered<T>;

    fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("the bytes of something remembered")
    }

    fn visit_bytes<E: serde::de::Error>(self, bytes: &[u8]) -> Result<Self::Value, E> {
        let thing = postcard::from_bytes(bytes).map_err(E::custom)?;
        Ok(Remembered { thing, bytes: OnceLock::from(Arc::from(bytes)) })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn kept(numbers: &Vec<Remembered<(u32, String)>>) -> Vec<u8> {
        postcard::to_allocvec(numbers).expect("OK because numbers and words have a form")
    }

    #[test]
    fn what_is_remembered_is_kept_as_it_is_after_every_change() {
        let thing = |n: u32| Remembered::from((n, format!("look {n}")));
        let mut things = vec![thing(1), thing(2)];
        let before = kept(&things);
        assert_eq!(before, kept(&things), "kept twice, the bytes are the same");
        things[1].0 = 300;
        things.push(thing(3));
        let after = kept(&things);
        assert_ne!(after, before);
        let fresh: Vec<_> =
            things.iter().map(|thing| Remembered::from((**thing).clone())).collect();
        assert_eq!(after, kept(&fresh), "no byte is left of what was before");
        let read: Vec<Remembered<(u32, String)>> =
            postcard::from_bytes(&after).expect("OK because it was written a moment ago");
        assert_eq!(read, things);
        assert_eq!(kept(&read), after);
    }

    #[test]
    fn a_person_reads_the_thing_itself() {
        let thing = Remembered::from(7_u32);
        assert_eq!(serde_json::to_string(&thing).expect("OK because a number prints"), "7");
        let read: Remembered<u32> = serde_json::from_str("7").expect("OK because it is a number");
        assert_eq!(read, thing);
    }
}
