//! Questions on a terminal, asked until the answer will do.

use std::io::{BufRead, Write};

/// Asks, and hears the answers.
pub(super) struct Asker<R, W> {
    answers: R,
    questions: W,
}

impl<R: BufRead, W: Write> Asker<R, W> {
    pub(super) fn new(answers: R, questions: W) -> Asker<R, W> {
        Asker { answers, questions }
    }

    /// Says a line.
    pub(super) fn say(&mut self, words: &str) -> std::io::Result<()> {
        writeln!(self.questions, "{words}")
    }

    /// Asks until `read` takes the answer; an empty one is `usual`.
    pub(super) fn ask<T>(
        &mut self,
        question: &str,
        usual: &str,
        read: impl Fn(&str) -> Result<T, String>,
    ) -> std::io::Result<T> {
        loop {
            write!(self.questions, "{question} [{usual}]: ")?;
            self.questions.flush()?;
            let mut answer = String::new();
            if self.answers.read_line(&mut answer)? == 0 {
                return Err(std::io::ErrorKind::UnexpectedEof.into());
            }
            let answer = match answer.trim() {
                "" => usual,
                answer => answer,
            };
            match read(answer) {
                Ok(answer) => return Ok(answer),
                Err(why) => writeln!(self.questions, "  {why}")?,
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn number(words: &str) -> Result<u8, String> {
        words
            .parse()
            .map_err(|_| format!("\"{words}\" is no number"))
    }

    #[test]
    fn a_question_comes_again_until_the_answer_will_do() {
        let mut said = Vec::new();
        let mut asker = Asker::new(&b"two\n\n 3 \n"[..], &mut said);
        assert_eq!(asker.ask("hands", "1", number).unwrap(), 1);
        assert_eq!(asker.ask("hands", "1", number).unwrap(), 3);
        assert!(asker.ask("hands", "1", number).is_err(), "the answers end");
        let said = String::from_utf8(said).unwrap();
        assert!(said.contains("\"two\" is no number"), "{said}");
    }
}
