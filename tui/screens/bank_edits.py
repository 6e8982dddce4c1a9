"""What can be changed on the Bank screen: headings, and one or several questions at once."""

from collections.abc import Callable, Sequence
from datetime import date

from banks.intake.heading_index import new_bank, with_chapter
from banks.planning.first_study import open_subject, say_studied
from banks.planning.intents import count_bank
from banks.planning.workload import banks_that_count
from banks.views.headings import BankHeading, headings
from banks.views.plan import effect_of_counting
from domain import editing
from domain.errors import InputError
from domain.plan.parsing import parse_day
from domain.questions import Bank, Question, bank_of
from domain.responses import FirstStudyDone, PlanAccepted
from domain.text import counted, tidy
from tui.dates import long_day
from tui.dialogs import ChoiceDialog, ConfirmDialog, PickDialog, TextDialog, confirmed, given
from tui.plan_words import counting_words
from tui.question_list import QuestionListScreen
from tui.save_in_background import attempt, save_edit, undo_edit
from tui.widgets.bank_lines import heading_line
from tui.widgets.virtual_list import VirtualList


class BankEdits(QuestionListScreen):
    """The changing half of the Bank screen."""

    _wanted_heading: tuple[str, str] | None = None
    """Bank and chapter to select when the headings are shown next."""

    @property
    def heading(self) -> BankHeading:
        """The heading that is selected."""
        return self.query_one("#headings", VirtualList).item or BankHeading("")

    @property
    def chosen(self) -> list[Question]:
        """The ticked questions, or the selected one."""
        return [row.question for row in self.query_one("#list", VirtualList).chosen]

    # several questions at once

    def action_move(self) -> None:
        """To another chapter of the same bank."""
        chosen = self.chosen
        if not (bank := self._one_bank(chosen)):
            return
        chapters = [
            heading
            for heading in headings(self.library)
            if heading.bank == bank.id and heading.depth > 1
        ]

        def picked(place: BankHeading | None) -> None:
            if place is None:
                return
            if not place.chapter:
                self.tell("Choose a chapter, not a subject.")
                return
            moved = editing.moved(bank, chosen, place.chapter)
            self._save(bank, moved, f"{_count(chosen)} moved to {place.title}")

        self.app.push_screen(
            PickDialog(
                f"Move {_count(chosen)} to which chapter?",
                chapters,
                heading_line,
            ),
            picked,
        )

    def action_tags(self) -> None:
        """Add tags and take tags off."""
        chosen = self.chosen
        if not (bank := self._one_bank(chosen)):
            return

        def typed(text: str | None) -> None:
            words = [word.strip() for word in (text or "").split(",") if word.strip()]
            drop = [word[1:].strip() for word in words if word.startswith("-")]
            add = [word for word in words if not word.startswith("-")]
            if words:
                self._save(bank, editing.tagged(chosen, add, drop), f"tags of {_count(chosen)}")

        self.app.push_screen(
            TextDialog(f"Tags for {_count(chosen)}, separated by commas; -tag removes one"), typed
        )

    def action_retire(self) -> None:
        """Out of use, or back in use."""
        chosen = self.chosen
        if not (bank := self._one_bank(chosen)):
            return
        if all(question.retired for question in chosen):
            back = editing.taken_back(bank, chosen)
            stayed = [question.same_as for question in chosen if question.same_as]
            self._save(bank, back, f"{_count(chosen)} reactivated", stayed)
        elif len(chosen) == 1:
            self._save(bank, editing.retired(chosen), f"{_count(chosen)} retired")
        else:
            self._confirm_retiring(bank, chosen)

    def _confirm_retiring(self, bank: Bank, chosen: list[Question]) -> None:
        question = f"Retire {_count(chosen)}? Their history stays, and this can be undone."
        self.app.push_screen(
            ConfirmDialog(question),
            confirmed(
                lambda: self._save(bank, editing.retired(chosen), f"{_count(chosen)} retired")
            ),
        )

    def action_checked(self) -> None:
        """Compared with the print: nothing is doubtful any more."""
        checked = editing.checked(self.chosen)
        if not checked:
            self.tell("Nothing to check here; 7 lists the questions to check.")
        elif bank := self._one_bank(checked):
            self._save(bank, checked, f"{_count(checked)} checked")

    def action_undo(self) -> None:
        """Undo the newest edit, or what was said of a first study or a bank that counts."""
        newest = self.library.newest
        if newest and all(
            isinstance(record, FirstStudyDone | PlanAccepted) for record in newest.records
        ):
            attempt(self, self.library.undo, lambda: self._saved(f"{newest.label} undone"))
        else:
            undo_edit(self, self.ready)

    def _one_bank(self, chosen: list[Question]) -> Bank | None:
        names = {bank_of(question.id) for question in chosen}
        if len(names) > 1:
            self.tell("The ticked questions are in several banks; tick those of one bank only.")
        return self.library.bank(names.pop()) if len(names) == 1 else None

    def _save(
        self, bank: Bank, changed: list[Question], label: str, others: Sequence[str] = ()
    ) -> None:
        """Save; the history of the changed questions and of `others` is graded anew."""
        names = [*(question.id for question in changed), *others]
        save_edit(self, bank.with_questions(changed), names, label, lambda: self._saved(label))

    def _saved(self, label: str) -> None:
        self.notify(f"Saved: {label}.", timeout=2)
        self.ready()

    # headings

    def action_new_heading(self) -> None:
        """A new chapter, subject or bank."""
        choices = [("b", "a bank")]
        if self.heading.bank:
            choices = [("s", "a subject in this bank"), *choices]
        if self.heading.subject:
            choices = [("c", "a chapter in this subject"), *choices]

        def chosen(choice: str | None) -> None:
            if choice == "b":
                self._ask("Title of the bank:", self._start_bank)
            elif choice == "s":
                self._ask_subject(self.library.bank(self.heading.bank))
            elif choice == "c":
                bank = self.library.bank(self.heading.bank)
                self._ask_chapter(bank, _subject_title(bank, self.heading.subject))

        self.app.push_screen(ChoiceDialog("Add what?", choices), chosen)

    def _start_bank(self, title: str) -> None:
        self._ask_subject(new_bank(title, self.library.banks))

    def _ask_subject(self, bank: Bank) -> None:
        question = f"{bank.title}: title of the new subject:"
        self._ask(question, lambda title: self._ask_chapter(bank, title))

    def _ask_chapter(self, bank: Bank, subject: str) -> None:
        question = f"{subject}: title of the new chapter:"

        def make(title: str) -> None:
            changed, chapter = with_chapter(bank, subject, title)
            self._wanted_heading = (bank.id, chapter)
            label = f"new chapter {title.strip()}"
            save_edit(self, changed, [], label, lambda: self._saved(label))

        self._ask(question, make)

    def rename_heading(self) -> None:
        """Rename the selected heading."""
        heading = self.heading
        if not heading.bank:
            self.tell("Select a bank, a subject or a chapter first.")
            return

        def rename(title: str) -> None:
            bank = self.library.bank(heading.bank)
            changed = editing.renamed(bank, title, heading.subject, heading.chapter)
            label = f"the title {title.strip()}"
            save_edit(self, changed, [], label, lambda: self._saved(label))

        self._ask("New title:", rename, heading.title)

    def action_first_study(self) -> None:
        """Say that the selected subject or chapter is studied, or from when it is revised; of a
        bank, whether it counts in the plan.
        """
        heading = self.heading
        if not heading.bank:
            self.tell("Select a bank, a subject or a chapter first.")
        elif not heading.subject:
            self._ask_counting(heading)
        elif heading.chapter:
            self.app.push_screen(
                ConfirmDialog(f"{heading.title}: is its first study done?"),
                confirmed(lambda: self._say_studied(heading)),
            )
        else:
            self._ask_study(heading)

    def _ask_study(self, heading: BankHeading) -> None:
        choices = [
            ("d", "done: revise it from today on"),
            ("l", "later: revise it from a day on"),
            ("w", "worth it? What so many hours of it would have to bring"),
        ]

        def chosen(choice: str) -> None:
            if choice == "d":
                self._say_studied(heading)
            elif choice == "w":
                self.app.push_screen(
                    TextDialog(f"Hours the first study of {heading.title} takes:", check=_hours),
                    given(lambda text: self._weigh_study(heading, _hours(text))),
                )
            else:
                self.app.push_screen(
                    TextDialog(f"Revise {heading.title} from which day on?", check=parse_day),
                    given(lambda text: self._open_from(heading, parse_day(text))),
                )

        question = f"{heading.title}: is its first study done?"
        self.app.push_screen(ChoiceDialog(question, choices), given(chosen))

    def _weigh_study(self, heading: BankHeading, hours: float) -> None:
        """Say, once it is reckoned in a thread, what the hours would have to bring."""
        from banks.views.sweeping import first_study_worth
        from tui.sweep_words import study_worth_words

        subject = f"{heading.bank}/{heading.subject}"

        def weigh() -> None:
            worth = first_study_worth(self.library, subject, hours)
            self.hand_over(self.tell, " ".join(study_worth_words(worth)))

        self.in_background(weigh, group="worth")

    def _say_studied(self, heading: BankHeading) -> None:
        attempt(
            self,
            lambda: say_studied(self.library, heading.bank, heading.subject, heading.chapter),
            lambda: self._saved(f"{heading.title} is studied"),
        )

    def _open_from(self, heading: BankHeading, day: date) -> None:
        attempt(
            self,
            lambda: open_subject(self.library, f"{heading.bank}/{heading.subject}", day),
            lambda: self._saved(f"{heading.title} is revised from {long_day(day)} on"),
        )

    def _ask_counting(self, heading: BankHeading) -> None:
        counts = heading.bank in banks_that_count(self.library)
        change = effect_of_counting(self.library, heading.bank)
        how = "set aside" if counts else "taken up"
        question = counting_words(heading.title, change, counts=counts, how=how)
        state = "set aside" if counts else "taken up"
        dialog = ConfirmDialog(question, "Set it aside" if counts else "Take it up", "Leave as is")
        self.app.push_screen(
            dialog,
            confirmed(
                lambda: attempt(
                    self,
                    lambda: count_bank(self.library, heading.bank, counts=not counts),
                    lambda: self._saved(f"{heading.title} is {state}"),
                )
            ),
        )

    def _ask(self, question: str, then: Callable[[str], None], value: str = "") -> None:
        def answered(text: str | None) -> None:
            if text is None:
                return
            try:
                then(tidy(text))
            except InputError as problem:
                self.tell(problem)

        self.app.push_screen(TextDialog(question, value), answered)


def _count(questions: list[Question]) -> str:
    if len(questions) == 1:
        return f"question {questions[0].number}"
    return counted(len(questions), "question")


def _subject_title(bank: Bank, subject_id: str) -> str:
    return next(subject.title for subject in bank.subjects if subject.id == subject_id)


def _hours(text: str) -> float:
    """Hours as typed. Raises InputError."""
    try:
        hours = float(text)
    except ValueError:
        hours = 0.0
    if not 0 < hours <= 1000:
        raise InputError(f"Expected hours such as 20, not {text!r}")
    return hours
