//! Decides which arc processes there are: by their numbers in ISO 4063.

/// An arc process.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum ArcProcess {
    /// 111, covered electrode.
    CoveredElectrode,
    /// 121, submerged arc.
    SubmergedArc,
    /// 131, MIG: metal arc, inert gas.
    Mig,
    /// 135, MAG: metal arc, active gas.
    Mag,
    /// 136, cored wire, active gas.
    CoredMag,
    /// 138, metal cored wire, active gas.
    MetalCoredMag,
    /// 141, TIG.
    Tig,
}

impl ArcProcess {
    /// All of them, by number.
    pub const ALL: [Self; 7] = [
        Self::CoveredElectrode,
        Self::SubmergedArc,
        Self::Mig,
        Self::Mag,
        Self::CoredMag,
        Self::MetalCoredMag,
        Self::Tig,
    ];

    /// Number in ISO 4063.
    #[must_use]
    pub fn number(self) -> u32 {
        match self {
            Self::CoveredElectrode => 111,
            Self::SubmergedArc => 121,
            Self::Mig => 131,
            Self::Mag => 135,
            Self::CoredMag => 136,
            Self::MetalCoredMag => 138,
            Self::Tig => 141,
        }
    }
}
