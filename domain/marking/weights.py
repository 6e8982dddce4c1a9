"""How much each subject of a bank weighs in the exam, in one unit for all banks: questions."""

from domain.questions import Bank


def exam_weights(bank: Bank) -> dict[str, float]:
    """The weight of each subject by its id: together, as many as the bank has questions.

    Weights that the bank gives may be in any unit, marks or per cent; what they say is how its
    subjects compare. A subject without one weighs, a question, as the others do on average.
    """
    sizes = {
        subject.id: sum(len(bank.in_chapter(chapter.id)) for chapter in subject.chapters)
        for subject in bank.subjects
    }
    given = {subject.id: subject.weight for subject in bank.subjects if subject.weight is not None}
    weighed = sum(sizes[subject] for subject in given)
    each = sum(given.values()) / weighed if weighed else 1.0
    raw = {subject: given.get(subject, each * size) for subject, size in sizes.items()}
    whole = sum(raw.values())
    scale = sum(sizes.values()) / whole if whole else 0.0
    return {subject: weight * scale for subject, weight in raw.items()}
