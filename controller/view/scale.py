"""What a machine says, in the scale of whoever looks.

Responsible for its sentences; numbers are scaled where they are shown (page, screen). A machine
that publishes °F has said so in its sentences, too, and these stay as they are.
"""

from dataclasses import replace

from controller.core.scales import retold
from controller.view.board import View


def scaled(view: View, *, fahrenheit: bool | None) -> View:
    """The view with its sentences in the scale wished for; None: as the machine says them."""
    facts = view.facts
    if not fahrenheit or facts.fahrenheit:
        return view

    def said(text: str | None) -> str | None:
        return None if text is None else retold(text, fahrenheit=True)

    asked = facts.asked
    return replace(
        view,
        facts=replace(
            facts,
            headline=said(facts.headline),
            temper_why=said(facts.temper_why),
            advice=said(facts.advice),
            asked=None
            if asked is None
            else replace(asked, text=retold(asked.text, fahrenheit=True)),
            alerts=tuple(
                replace(one, text=retold(one.text, fahrenheit=True)) for one in facts.alerts
            ),
        ),
    )
