"""All kinds of planted fault, in the order they are planted in."""

from __future__ import annotations

from fault_paths import PATHS
from fault_plant import Kind
from fault_setup import SETUP
from fault_states import STATES
from fault_typing import TYPING

KINDS: tuple[Kind, ...] = (*STATES, *TYPING, *PATHS, *SETUP)
