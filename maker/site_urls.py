"""Addresses of this app: sign-in, workshops, settings, people, health."""

from django.urls import include, path

from maker.accounts import activity_views as activity
from maker.accounts import device_views as devices
from maker.accounts import reset_views as resets
from maker.accounts import second_step_views as steps
from maker.accounts import views as accounts
from maker.backup import views as backup
from maker.files import views as files
from maker.health import views as health
from maker.phone import views as phone
from maker.slow_work import views as slow_work
from maker.updates import views as updates
from maker.workshop import views as workshop

app_name = "maker"
urlpatterns = [
    path("health/", health.health, name="health"),
    path("sign-in/", accounts.sign_in, name="sign_in"),
    path("sign-in/second-step/", steps.second_step, name="second_step"),
    path("sign-in/second-step/asked/", steps.second_step_asked, name="second_step_asked"),
    path("sign-in/lost/", resets.lost_password, name="lost_password"),
    path("new-password/", resets.new_password, name="new_password"),
    path("installation/mail/", resets.mail, name="mail"),
    path("installation/mail/test/", resets.mail_test, name="mail_test"),
    path("installation/mail/forget/", resets.mail_forget, name="mail_forget"),
    path("sign-in/passkey/", steps.passkey_sign_in, name="passkey_sign_in"),
    path("sign-in/passkey/asked/", steps.passkey_asked, name="passkey_asked"),
    path("sign-out/", accounts.sign_out, name="sign_out"),
    path("welcome/", accounts.welcome, name="welcome"),
    path("account/", accounts.account, name="account"),
    path("account/prove/", devices.prove, name="prove"),
    path("account/devices/", devices.devices, name="devices"),
    path("account/devices/others/", devices.devices_sign_out, name="devices_sign_out"),
    path("account/devices/<str:mark>/", devices.device_sign_out, name="device_sign_out"),
    path("account/second-step/", steps.my_second_step, name="my_second_step"),
    path("account/second-step/wanted/", steps.second_step_wanted, name="second_step_wanted"),
    path("account/second-step/codes/", steps.code_app_add, name="code_app_add"),
    path("account/second-step/codes/remove/", steps.code_app_remove, name="code_app_remove"),
    path("account/second-step/recovery/", steps.recovery_codes_new, name="recovery_codes_new"),
    path("account/second-step/passkeys/", steps.passkey_add, name="passkey_add"),
    path("account/second-step/passkeys/asked/", steps.passkey_add_asked, name="passkey_add_asked"),
    path(
        "account/second-step/passkeys/<int:pk>/remove/",
        steps.passkey_remove,
        name="passkey_remove",
    ),
    path("account/activity/", activity.my_activity, name="my_activity"),
    path("account/phone/", phone.on_your_phone, name="on_your_phone"),
    path("account/phone/certificate/", phone.certificate, name="phone_certificate"),
    path("installation/activity/", activity.installation_activity, name="installation_activity"),
    path("backups/", backup.backups, name="backups"),
    path("backups/make/", backup.backup_make, name="backup_make"),
    path("backups/upload/", backup.backup_upload, name="backup_upload"),
    path("backups/move/", backup.move, name="move"),
    path("backups/<str:name>/download/", backup.backup_download, name="backup_download"),
    path("backups/<str:name>/restore/", backup.backup_restore, name="backup_restore"),
    path("new/", updates.what_is_new, name="what_is_new"),
    path("new/close/", updates.close, name="what_is_new_close"),
    path("workshops/", workshop.workshop_list, name="workshop_list"),
    path("workshops/new/", workshop.workshop_new, name="workshop_new"),
    path("workshops/leave/<int:pk>/", accounts.leave, name="leave"),
    path(
        "w/<slug:workshop>/",
        include(
            [
                path("pictures/<int:pk>/", files.picture, name="picture"),
                path("pdfs/<int:pk>/", files.pdf, name="pdf"),
                path("settings/", workshop.workshop_settings, name="workshop_settings"),
                path("settings/counting/", workshop.workshop_counting, name="workshop_counting"),
                path("settings/hour/", workshop.workshop_hour, name="workshop_hour"),
                path("settings/tax/", workshop.workshop_tax, name="workshop_tax"),
                path("settings/supplies/", workshop.workshop_supplies, name="workshop_supplies"),
                path("settings/prices/", workshop.workshop_prices, name="workshop_prices"),
                path("settings/dates/", workshop.workshop_dates, name="workshop_dates"),
                path("settings/quotes/", workshop.workshop_quotes, name="workshop_quotes"),
                path("settings/invoices/", workshop.workshop_invoices, name="workshop_invoices"),
                path("activity/", activity.workshop_activity, name="workshop_activity"),
                path("work/", slow_work.work_list, name="work_list"),
                path("work/<int:pk>/", slow_work.work, name="work"),
                path("work/<int:pk>/stop/", slow_work.work_stop, name="work_stop"),
                path("work/<int:pk>/again/", slow_work.work_again, name="work_again"),
                path("work/<int:pk>/file/", slow_work.work_file, name="work_file"),
                path("people/", accounts.people, name="people"),
                path("people/second-step/", accounts.people_second_step, name="people_second_step"),
                path("people/<int:pk>/role/", accounts.person_role, name="person_role"),
                path("people/<int:pk>/remove/", accounts.person_remove, name="person_remove"),
                path("people/<int:pk>/link/", accounts.person_link, name="person_link"),
                path(
                    "people/bring-back/<str:mark>/",
                    accounts.person_bring_back,
                    name="person_bring_back",
                ),
            ]
        ),
    ),
]
