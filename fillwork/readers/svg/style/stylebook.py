"""Which rules fit an element, and what they make of it, remembered."""

from __future__ import annotations

from typing import TYPE_CHECKING

from fillwork.readers.svg.style.cascade import cascade, not_understood, resolve
from fillwork.readers.svg.style.css import Element

if TYPE_CHECKING:
    from fillwork.readers.limits import Limits
    from fillwork.readers.selectors import Condition
    from fillwork.readers.svg.frames import Frame
    from fillwork.readers.svg.style.cascade import Inherited, Own
    from fillwork.readers.svg.style.css import Rule, Sheet


# Styles remembered at most; drawings have a handful.
_MOST = 100_000
_TOLD = 20  # declarations that are not understood, told at most


class StyleBook:
    """Answer what style an element has.

    `sheet`: all style sheets. `conditions`: classes and ids that the user asked for.
    `limits`: sizes allowed. `where`: file name for messages.
    """

    def __init__(
        self,
        sheet: Sheet,
        conditions: tuple[Condition, ...],
        limits: Limits,
        where: str,
    ) -> None:
        self.sheet = sheet
        self.conditions = conditions
        self.limits = limits
        self.where = where
        self._steps = 0
        self.classes: dict[str, None] = {}
        """Names of classes met, where a condition asks for one."""
        self._matched: dict[object, tuple[Rule, ...]] = {}
        self._resolved: dict[object, tuple[Inherited, Own]] = {}
        self._told: set[str] = set()
        self.passed: list[str] = []
        """Declarations met since it was emptied that are not understood."""

    def names(self, attributes: dict[str, str], bits: int) -> int:
        """Return which conditions on class and id hold."""
        for k, condition in enumerate(self.conditions):
            if condition.key == "id":
                fits = attributes.get("id") == condition.text
            else:
                classes = attributes.get("class", "").split()
                self.classes.update(dict.fromkeys(classes))
                fits = condition.text in classes
            if fits:
                bits |= 1 << k
        return bits

    def rules(
        self,
        role: str,
        attributes: dict[str, str],
        frame: Frame,
        element: Element | None,
    ) -> tuple[Rule, ...]:
        """Return the rules that fit an element, weakest first.

        By specificity and order. `element`: what selectors may ask of it, if that is
        known already. Raises `ReadError` if the style sheets take more comparisons than
        allowed.
        """
        sheet = self.sheet
        if not sheet.rules:
            return ()
        key = None
        if sheet.plain:
            name = attributes.get("id")
            key = (role, attributes.get("class"), name if name in sheet.by_id else None)
            found = self._matched.get(key)
            if found is not None:
                return found
        if element is None:
            element = Element(role, attributes, frame.element, frame.last)
            if sheet.siblings:
                frame.last = element
        rules, steps = sheet.match(element)
        self._steps += steps
        if self._steps > self.limits.style_steps:
            got = f"more than {self.limits.style_steps:,} comparisons of style rules"
            raise self.limits.refuse(limit="style_steps", got=got, where=self.where)
        if key is not None:
            self._matched[key] = rules
        return rules

    def resolve(
        self, frame: Frame, given: tuple[tuple[str, str], ...], rules: tuple[Rule, ...]
    ) -> tuple[Inherited, Own]:
        """Return the properties of an element."""
        key = (frame.style, given, rules, frame.viewport)
        found = self._resolved.get(key)
        if found is None:
            attributes = dict(given)
            inline = attributes.pop("style", None)
            declared = cascade(attributes, rules, inline)
            found = resolve(frame.style, declared, frame.viewport)
            for text in not_understood(declared, frame.viewport):
                if text not in self._told and len(self._told) < _TOLD:
                    self._told.add(text)
                    self.passed.append(text)
            if len(self._resolved) < _MOST:
                self._resolved[key] = found
        return found
