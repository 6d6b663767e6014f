"""What a system serves over HTTP: pages and tables."""

from abc import abstractmethod
from datetime import timedelta
from http import HTTPStatus

from aiohttp import web
from homeassistant.components.http import KEY_HASS, KEY_HASS_USER, HomeAssistantView
from homeassistant.components.http.auth import async_sign_path
from homeassistant.core import HomeAssistant, callback
from homeassistant.exceptions import ServiceValidationError

from .permissions import Permission, Requester
from .system_context import GatewrightConfigEntry

_SIGNED_FOR = timedelta(hours=1)


class SystemView(HomeAssistantView):
    """A page of one system, for signed-in users who may see it.

    Pages for storing are for administrators.
    """

    url: str
    requires_auth = True
    deed = Permission.READ

    async def get(self, request: web.Request, entry_id: str) -> web.Response:
        """Return the page; not found for a missing or hidden system."""
        hass = request.app[KEY_HASS]
        asker = Requester(hass, request[KEY_HASS_USER])
        if self.deed is Permission.STORE and not asker.administers:
            return web.Response(status=HTTPStatus.NOT_FOUND)
        try:
            answer = await self.answer(asker, asker.system(entry_id))
        except ServiceValidationError:
            answer = None
        return web.Response(status=HTTPStatus.NOT_FOUND) if answer is None else answer

    @abstractmethod
    async def answer(
        self, asker: Requester, entry: GatewrightConfigEntry
    ) -> web.Response | None:
        """Return the content as the user may see it; None if the system has none."""


@callback
def signed(hass: HomeAssistant, entry_id: str, view: type[SystemView]) -> str:
    """Return a system's address of this page, signed for an hour."""
    return async_sign_path(hass, view.url.format(entry_id=entry_id), _SIGNED_FOR)
