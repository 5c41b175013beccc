"""Test kits of one line of shafts, and the dozen like the arrow that was proven."""

from shaftwright.answers.shop_whole import ShopAnswer, Wishes, shop

__all__ = ["ShopAnswer", "Wishes", "shop"]
