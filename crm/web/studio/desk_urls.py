"""Addresses of the desk: what is due back, the post, the shelf."""

from __future__ import annotations

from django.urls import path

from crm.web.studio import due, lasted, post, post_message, shelf, shelf_changes

urlpatterns = [
    path("due-back/", due.due_back, name="due_back"),
    path("post/", post.post, name="post"),
    path("post/<number:pk>/", post_message.message, name="message"),
    path("post/<number:pk>/as-read/", post_message.message_as_read, name="message_as_read"),
    path("post/<number:pk>/hold/", post_message.message_hold, name="message_hold"),
    path("post/<number:pk>/release/", post_message.message_release, name="message_release"),
    path("post/<number:pk>/send/", post_message.message_send, name="message_send"),
    path("post/<number:pk>/cancel/", post_message.message_cancel, name="message_cancel"),
    path("post/<number:pk>/resolve/", post_message.message_resolve, name="message_resolve"),
    path("shelf/", shelf.shelf, name="shelf"),
    path("shelf/new/", shelf_changes.product_new, name="product_new"),
    path("shelf/<number:pk>/", shelf.product, name="product"),
    path("shelf/<number:pk>/change/", shelf_changes.product_edit, name="product_edit"),
    path("shelf/<number:pk>/figures/", shelf_changes.life_new, name="life_new"),
    path("shelf/<number:pk>/lasted/", lasted.product_lasted, name="product_lasted"),
    path("shelf/<number:pk>/place/", shelf_changes.product_place, name="product_place"),
]
