"""Signing in and out. Counting wrong passwords is the job of the sign-in's own back end."""

from __future__ import annotations

from typing import Any

from django.contrib.auth.forms import AuthenticationForm
from django.contrib.auth.views import LoginView, LogoutView

from crm.web.studio.forms.own_words import InOwnWords


class SignInForm(InOwnWords, AuthenticationForm):
    """Name and password."""

    error_messages = {
        "invalid_login": "Name and password do not belong together. Look at capital letters and try again.",
        "inactive": "This account is closed. Ask the owner-manager.",
    }

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["username"].label = "Name"
        self.fields["username"].widget.attrs |= {"autocomplete": "username", "spellcheck": "false"}
        self.fields["password"].label = "Password"

    def clean(self) -> dict[str, Any]:
        """A name longer than any account's is nobody's: it is neither looked up nor counted as a try."""
        name = self.cleaned_data.get("username", "")
        if len(name) > (self.username_field.max_length or 0):
            raise self.get_invalid_login_error()
        return super().clean()


class SignIn(LoginView):
    """The first page of somebody who is not signed in."""

    template_name = "studio/sign_in.html"
    authentication_form = SignInForm
    redirect_authenticated_user = True


class SignOut(LogoutView):
    """Ends the sign-in; only a POST does."""
