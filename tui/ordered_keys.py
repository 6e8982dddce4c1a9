"""Keys in the order in which they were typed, on screens where every key counts."""

from textual.events import Key

from tui.base_screen import AppScreen


class OrderedKeysScreen(AppScreen):
    """A screen whose own keys are handled one after another.

    Textual hands a bound key on to the app before it runs its action, so in a fast burst it may
    come after the typed characters behind it. Here the screen runs its bindings itself, in turn.
    """

    TAKES_KEYS_IN_TURN = True

    async def on_key(self, event: Key) -> None:
        """A character that the screen takes, else one of its own bindings."""
        if self.app.screen is not self:
            event.stop()
            self.app.type_again(event)
            return
        if self.take(event):
            event.stop()
            return
        for node, bindings in self._binding_chain:
            if event.key in bindings.key_to_bindings:
                if node is not self:
                    return  # the focused widget's own key: a line being typed keeps its own
                event.stop()
                await self.run_action(bindings.key_to_bindings[event.key][0].action)

    def take(self, event: Key) -> bool:
        """Take a typed character; False leaves it to the bindings."""
        return False
