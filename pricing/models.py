"""Registers the models of this app with Django; import from the features, never from here."""

from pricing.calendar.models import CalendarFeed
from pricing.channels.models import Channel, ChannelTier
from pricing.consignment.models import SettledItem, Settlement, Shop
from pricing.customer_pages.models import QuoteLink, QuoteMessage
from pricing.customers.models import Customer
from pricing.enquiries.models import Enquiry, EnquiryDrop
from pricing.fair_sales.models import TablePrice
from pricing.fairs.models import (
    Fair,
    FairBundle,
    FairBundleItem,
    FairCoin,
    FairCost,
    FairDay,
    FairDesign,
    FairHour,
    FairOrder,
    FairSale,
    FairSaleLine,
)
from pricing.finished_stock.models import (
    BatchMaterial,
    BatchSpoiled,
    FinishedBatch,
    FinishedItem,
    FinishedLayer,
    FinishedMove,
    Place,
)
from pricing.letters.models import Letter
from pricing.orders.models import (
    Invoice,
    Order,
    OrderApproval,
    OrderChange,
    OrderChangeLess,
    OrderDelivery,
    OrderDeliveryLine,
    OrderExpense,
    OrderNeed,
    OrderPayment,
)
from pricing.price_review.models import PriceDecision
from pricing.price_tags.models import LabelSheet, TagPrint
from pricing.prices.models import PriceListEntry
from pricing.quotes.models import DocumentSeries, Quote, QuoteDrop, QuoteExtra, QuoteLine
from pricing.spending.models import Budget, KeptSpending
from pricing.times.models import TimedRun

__all__ = [
    "BatchMaterial",
    "BatchSpoiled",
    "Budget",
    "CalendarFeed",
    "Channel",
    "ChannelTier",
    "Customer",
    "DocumentSeries",
    "Enquiry",
    "EnquiryDrop",
    "Fair",
    "FairBundle",
    "FairBundleItem",
    "FairCoin",
    "FairCost",
    "FairDay",
    "FairDesign",
    "FairHour",
    "FairOrder",
    "FairSale",
    "FairSaleLine",
    "FinishedBatch",
    "FinishedItem",
    "FinishedLayer",
    "FinishedMove",
    "Invoice",
    "KeptSpending",
    "LabelSheet",
    "Letter",
    "Order",
    "OrderApproval",
    "OrderChange",
    "OrderChangeLess",
    "OrderDelivery",
    "OrderDeliveryLine",
    "OrderExpense",
    "OrderNeed",
    "OrderPayment",
    "Place",
    "PriceDecision",
    "PriceListEntry",
    "Quote",
    "QuoteDrop",
    "QuoteExtra",
    "QuoteLine",
    "QuoteLink",
    "QuoteMessage",
    "SettledItem",
    "Settlement",
    "Shop",
    "TablePrice",
    "TagPrint",
    "TimedRun",
]
