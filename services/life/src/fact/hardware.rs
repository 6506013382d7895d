//! What a workshop says of the hardware: how a thing was fastened when it was found, and how it was left.

use crate::decimal::Decimal;
use crate::ids::{ItemId, PositionId};

/// How one thing is fastened.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Fastening {
    /// What is held, by a short name such as `flywheel`.
    pub item: ItemId,
    /// Where.
    pub position: Option<PositionId>,
    /// Whether it was seen so or left so.
    pub seen: Seen,
    /// Which way a dished washer faces.
    pub washer: Option<WasherFacing>,
    /// How long a bolt is, and how much room there is for it.
    pub bolt: Option<BoltFit>,
    /// The torque of a stud or bolt, in newton metres or as its unit says.
    pub torque: Option<Torque>,
    /// What was put on the thread, as its tin names it.
    pub compound: Option<String>,
    /// What keeps it from coming loose.
    pub locking: Option<Locking>,
}

/// Before the work or after it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Seen {
    /// As it was found.
    Found,
    /// As the work left it.
    Left,
}

/// Which way a dished (conical spring) washer faces.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum WasherFacing {
    /// The hollow side lies on the part.
    HollowToPart,
    /// The hollow side lies under the nut or head.
    HollowToNut,
}

/// A bolt's length under the head, and the room from under the head to what lies behind the hole.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct BoltFit {
    /// How long the bolt is.
    pub length: Length,
    /// How deep it may go before it meets what lies behind.
    pub room: Length,
}

/// A length as measured.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Length {
    /// In the unit beside it.
    pub value: Decimal,
    /// Millimetres or inches.
    pub unit: LengthUnit,
}

/// The unit of a length.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum LengthUnit {
    /// Millimetres.
    Millimetre,
    /// Inches, 25.4 mm each (NIST SP 811, appendix B.8: exact).
    Inch,
}

/// A torque as it was set or found, kept as written.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Torque {
    /// A plain decimal.
    pub value: String,
    /// Its unit.
    pub unit: String,
}

/// What keeps a nut, bolt or stud from coming loose.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Locking {
    /// Nothing but its torque.
    Nothing,
    /// A compound on the thread.
    Compound,
    /// A nut that locks itself.
    SelfLockingNut,
    /// Wire.
    Wire,
    /// A washer with a tab bent up.
    TabWasher,
    /// A split pin.
    SplitPin,
    /// A spring or dished washer.
    SpringWasher,
}

impl Seen {
    /// Both, in the order in which messages list them.
    pub const ALL: [Self; 2] = [Self::Found, Self::Left];

    /// The word used in the API and on paper.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Found => "found",
            Self::Left => "left",
        }
    }
}

impl WasherFacing {
    /// Both, in the order in which messages list them.
    pub const ALL: [Self; 2] = [Self::HollowToPart, Self::HollowToNut];

    /// The word used in the API.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::HollowToPart => "hollow-to-part",
            Self::HollowToNut => "hollow-to-nut",
        }
    }

    /// The words printed on paper and pages.
    #[must_use]
    pub const fn printed(self) -> &'static str {
        match self {
            Self::HollowToPart => "hollow side to the part",
            Self::HollowToNut => "hollow side to the nut",
        }
    }
}

impl LengthUnit {
    /// Both, in the order in which messages list them.
    pub const ALL: [Self; 2] = [Self::Millimetre, Self::Inch];

    /// Its symbol.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Millimetre => "mm",
            Self::Inch => "in",
        }
    }
}

impl Length {
    /// In tenths of a millimetre, of which an inch has exactly 254; `None` beyond any engine.
    fn tenths_of_millimetre(self) -> Option<Decimal> {
        let tenths = match self.unit {
            LengthUnit::Millimetre => 10,
            LengthUnit::Inch => 254,
        };
        self.value.scaled(Decimal::whole(tenths), Decimal::whole(1))
    }
}

impl BoltFit {
    /// Whether the bolt is longer than the room for it: tightened, it presses on what lies behind the hole.
    #[must_use]
    pub fn is_too_long(self) -> bool {
        let (length, room) = (self.length.tenths_of_millimetre(), self.room.tenths_of_millimetre());
        length.zip(room).is_none_or(|(length, room)| length > room)
    }
}

impl Locking {
    /// All kinds, in the order in which messages list them.
    pub const ALL: [Self; 7] = [
        Self::Nothing,
        Self::Compound,
        Self::SelfLockingNut,
        Self::Wire,
        Self::TabWasher,
        Self::SplitPin,
        Self::SpringWasher,
    ];

    /// The word used in the API.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Nothing => "nothing",
            Self::Compound => "compound",
            Self::SelfLockingNut => "self-locking-nut",
            Self::Wire => "wire",
            Self::TabWasher => "tab-washer",
            Self::SplitPin => "split-pin",
            Self::SpringWasher => "spring-washer",
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn fit(length: (&str, LengthUnit), room: (&str, LengthUnit)) -> BoltFit {
        let of = |(value, unit)| Length { value: Decimal::parse(value).expect("a decimal"), unit };
        BoltFit { length: of(length), room: of(room) }
    }

    // 1 in is 25.4 mm exactly (NIST SP 811, appendix B.8): 0.984 in = 24.9936 mm.
    #[test]
    fn a_bolt_is_measured_against_its_room_in_whichever_unit() {
        use LengthUnit::{Inch, Millimetre};
        for (length, room, expected) in [
            (("25", Millimetre), ("25", Millimetre), false),
            (("25.1", Millimetre), ("25", Millimetre), true),
            (("1", Inch), ("25.4", Millimetre), false),
            (("1", Inch), ("25.39", Millimetre), true),
            (("25", Millimetre), ("0.984", Inch), true),
            (("24.9936", Millimetre), ("0.984", Inch), false),
        ] {
            assert_eq!(fit(length, room).is_too_long(), expected, "{length:?} in {room:?}");
        }
    }
}
