"""A person's acts are heard in the order in which they were done, by one thread."""

from __future__ import annotations

import ipywidgets as widgets
import pytest
from ipykernel.comm.comm import BaseComm

from audit.widget_messages import hear_in_order

#: As the browser names the second thread of a kernel, and as the kernel remembers whom it last answered.
SECOND = "c783eda0"


@pytest.fixture
def kernel_comms(monkeypatch: pytest.MonkeyPatch) -> None:
    """Give widgets the connections of a kernel, with nobody at the other end."""
    monkeypatch.setattr(BaseComm, "publish_msg", lambda *_, **__: None)
    monkeypatch.setattr("comm.create_comm", BaseComm)


def heard_by(widget: widgets.Widget) -> str | None:
    """Ask the kernel's own routing who hears a message, once the second thread was answered."""
    widget.comm._reply_subshell_id = SECOND
    who: str | None = widget.comm._reply_subshell_for({"method": "update"}, SECOND)
    return who


@pytest.mark.usefixtures("kernel_comms")
def test_text_and_button_are_heard_by_one_thread_however_deep_they_lie() -> None:
    text, button = widgets.Text(), widgets.Button()
    desk = widgets.VBox([widgets.HBox([text]), button])
    assert heard_by(text) == SECOND
    hear_in_order(desk)
    assert [heard_by(part) for part in (desk, text, button)] == [None, None, None]


def test_without_a_kernel_nothing_is_changed() -> None:
    desk = widgets.VBox([widgets.Text()])
    hear_in_order(desk)
    assert not hasattr(desk.comm, "_reply_subshell_for")
