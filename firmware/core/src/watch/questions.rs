//! What the watch asks aloud: each question until it is answered, by one key
//! for each answer. What is put off is asked again.

use crate::act::Question;

/// All questions.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Questions([Asked; Question::ALL.len()]);

/// One question.
#[derive(Clone, Copy, Debug, Default)]
struct Asked {
    times: u32,
    open: Open,
}

/// Whether it waits for an answer.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
enum Open {
    #[default]
    No,
    Aloud,
    Silently,
}

impl Questions {
    /// Whether a question waits for its answer.
    pub(super) fn is_open(&self, question: Question) -> bool {
        self.of(question).open != Open::No
    }

    /// Whether any of them sounds.
    pub(super) fn sounds(&self) -> bool {
        self.0.iter().any(|asked| asked.open == Open::Aloud)
    }

    /// The one that is put to the crew: one at a time.
    pub(super) fn first(&self) -> Option<Question> {
        Question::ALL.into_iter().find(|it| self.is_open(*it))
    }

    /// The key that stills. Where asking again would come anyway it is "not
    /// yet"; what is asked but once stays on the screen. Says whether any
    /// sounded.
    pub(super) fn acknowledge(&mut self) -> bool {
        let sounded = self.sounds();
        for question in Question::ALL {
            let asked = self.of_mut(question);
            if asked.open == Open::Aloud {
                asked.open = match question {
                    Question::IsItSet | Question::OnDeck | Question::CarryOn => Open::No,
                    Question::OldChange | Question::OldCall | Question::OldHands => Open::Silently,
                };
            }
        }
        sounded
    }

    /// It is answered.
    pub(super) fn close(&mut self, question: Question) {
        self.of_mut(question).open = Open::No;
    }

    /// Takes how often it is to have been asked by now; none where there is
    /// nothing to ask. Says whether it is asked now.
    pub(super) fn look(&mut self, question: Question, due: Option<u32>) -> bool {
        let asked = self.of_mut(question);
        match due {
            None => *asked = Asked::default(),
            Some(times) if times > asked.times => {
                *asked = Asked {
                    times,
                    open: Open::Aloud,
                };
                return true;
            }
            Some(_) => {}
        }
        false
    }

    fn of(&self, question: Question) -> Asked {
        self.0.get(question as usize).copied().unwrap_or_default()
    }

    fn of_mut(&mut self, question: Question) -> &mut Asked {
        let [old_change, old_call, old_hands, set, deck, carry_on] = &mut self.0;
        match question {
            Question::OldChange => old_change,
            Question::OldCall => old_call,
            Question::OldHands => old_hands,
            Question::IsItSet => set,
            Question::OnDeck => deck,
            Question::CarryOn => carry_on,
        }
    }
}
