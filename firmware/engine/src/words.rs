//! The words under which the core's choices stand in event lines, recordings
//! and the state file. A word once given out is never changed.

use cringle_core::act::{
    Condition, Doing, Helm, NotNow, PointOfSail, Question, Readiness, Reply, Rigging, Sea,
};
use cringle_core::time::UtcQuality;

/// A choice that has a word.
pub trait Word: Sized + Copy + 'static {
    /// All choices with their words.
    const WORDS: &'static [(Self, &'static str)];

    /// Its word.
    fn word(self) -> &'static str;

    /// The choice with this word.
    fn from_word(word: &str) -> Option<Self> {
        Self::WORDS
            .iter()
            .find(|(_, known)| *known == word)
            .map(|(choice, _)| *choice)
    }
}

macro_rules! words {
    ($type:ty { $($choice:path => $word:literal,)+ }) => {
        impl Word for $type {
            const WORDS: &'static [($type, &'static str)] = &[$(($choice, $word)),+];

            fn word(self) -> &'static str {
                match self {
                    $($choice => $word,)+
                }
            }
        }
    };
}

words!(Condition {
    Condition::Fresh => "fresh",
    Condition::WornOut => "worn-out",
});
words!(Doing {
    Doing::Sailing => "sailing",
    Doing::MotorSailing => "motor-sailing",
    Doing::Motoring => "motoring",
    Doing::HoveTo => "hove-to",
    Doing::Anchored => "anchored",
    Doing::Moored => "moored",
});
words!(Helm {
    Helm::Pilot => "pilot",
    Helm::Hand => "hand",
});
words!(NotNow {
    NotNow::Shelter => "shelter",
    NotNow::Traffic => "traffic",
    NotNow::Lull => "lull",
    NotNow::Rest => "rest",
});
words!(Question {
    Question::OldChange => "old_change",
    Question::OldCall => "old_call",
    Question::OldHands => "old_hands",
    Question::IsItSet => "set",
    Question::OnDeck => "on_deck",
    Question::CarryOn => "carry_on",
});
words!(Reply {
    Reply::Yes => "yes",
    Reply::No => "no",
});
words!(PointOfSail {
    PointOfSail::CloseHauled => "close-hauled",
    PointOfSail::Reaching => "reaching",
    PointOfSail::Running => "running",
});
words!(Readiness {
    Readiness::Open => "open",
    Readiness::Ready => "ready",
});
words!(Rigging {
    Rigging::Cleared => "cleared",
    Rigging::Rigged => "rigged",
});
words!(Sea {
    Sea::Smooth => "smooth",
    Sea::Slight => "slight",
    Sea::Moderate => "moderate",
    Sea::Rough => "rough",
    Sea::VeryRough => "very-rough",
});
words!(UtcQuality {
    UtcQuality::System => "system",
    UtcQuality::Recording => "recording",
    UtcQuality::Gnss => "gnss",
});

#[cfg(test)]
mod tests {
    use super::*;

    fn all_come_back<W: Word + PartialEq + std::fmt::Debug>() {
        for (choice, word) in W::WORDS {
            assert_eq!(W::from_word(word), Some(*choice));
            assert_eq!(choice.word(), *word);
        }
    }

    #[test]
    fn every_word_leads_back_to_its_choice() {
        all_come_back::<Condition>();
        all_come_back::<Doing>();
        all_come_back::<Helm>();
        all_come_back::<NotNow>();
        all_come_back::<PointOfSail>();
        all_come_back::<Readiness>();
        all_come_back::<Rigging>();
        all_come_back::<Sea>();
        all_come_back::<UtcQuality>();
    }
}
