"""Why not more: what one step of relief gives to the goals that a plan leaves short, by planning again."""

from optimizer.relief.asking import MOST_QUESTIONS, relieve
from optimizer.relief.questions import Question, questions_of

__all__ = ["MOST_QUESTIONS", "Question", "questions_of", "relieve"]
