"""What one easier setting would give to the goals that a plan leaves short, by planning again.

In: a planned night and what it leaves out. Out: the same entries, each with the settings that help it. May
import the night and what that imports.
"""

from optimizer.relief.asking import MOST_QUESTIONS, relieve
from optimizer.relief.questions import Question, questions_of

__all__ = ["MOST_QUESTIONS", "Question", "questions_of", "relieve"]
