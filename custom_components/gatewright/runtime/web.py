"""What a system hands out over Home Assistant's web server: pages and tables."""

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
    """Something of one system, for somebody who is signed in and may see it.

    What belongs to storing is for administrators.
    """

    url: str
    requires_auth = True
    deed = Permission.READ

    async def get(self, request: web.Request, entry_id: str) -> web.Response:
        """Return it; not found where there is no such system, or none to be seen."""
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
        """Return what is asked for, as far as the asker may see it; None where the system has nothing of the sort."""


@callback
def signed(hass: HomeAssistant, entry_id: str, view: type[SystemView]) -> str:
    """Return the address at which a system hands this out, signed for an hour."""
    return async_sign_path(hass, view.url.format(entry_id=entry_id), _SIGNED_FOR)
