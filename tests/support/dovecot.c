/* SPDX-License-Identifier: Apache-2.0 */
#include "tests/support/dovecot.h"

#include <arpa/inet.h>
#include <glib/gstdio.h>
#include <pwd.h>
#include <signal.h>
#include <string.h>
#include <sys/prctl.h>
#include <sys/socket.h>
#include <sys/wait.h>
#include <unistd.h>

#include "tests/support/folder.h"

#define PROGRAM "/usr/sbin/dovecot"

struct Dovecot {
    char *root; /* settings, run/ and mail/ */
    char *maildir;
    int port;
    uid_t owner; /* of the mails: dovecot serves none of root's */
    gid_t group;
    pid_t pid; /* 0: not running */
    int delivered;
};

/* As little as serves IMAP in the clear. */
static const char SETTINGS[] = "base_dir = %s/run\n"
                               "state_dir = %s/run\n"
                               "log_path = %s/log\n"
                               "protocols = imap\n"
                               "listen = 127.0.0.1\n"
                               "ssl = no\n"
                               "disable_plaintext_auth = no\n"
                               "first_valid_uid = 1\n"
                               "mail_location = maildir:%s/mail\n"
                               "passdb {\n  driver = static\n  args = password=%s\n}\n"
                               "userdb {\n  driver = static\n"
                               "  args = uid=%u gid=%u home=%s/mail\n}\n"
                               "service imap-login {\n  chroot =\n"
                               "  inet_listener imap {\n    port = %d\n  }\n"
                               "  inet_listener imaps {\n    port = 0\n  }\n}\n"
                               "service anvil {\n  chroot =\n}\n";

bool dovecot_installed(void)
{
    return g_file_test(PROGRAM, G_FILE_TEST_IS_EXECUTABLE);
}

/* The folder of that name in the mailbox's own; one more of its owner's. */
static void make_folder(const Dovecot *dovecot, const char *name)
{
    g_autofree char *path = g_build_filename(dovecot->maildir, name, NULL);

    g_assert_cmpint(g_mkdir_with_parents(path, 0700), ==, 0);
    g_assert_cmpint(chown(path, dovecot->owner, dovecot->group), ==, 0);
}

static void write_settings(const Dovecot *dovecot, const char *password)
{
    const char *root = dovecot->root;
    g_autofree char *path = g_build_filename(root, "dovecot.conf", NULL);
    g_autoptr(GString) text = g_string_new(NULL);

    g_string_printf(text, SETTINGS, root, root, root, root, password, (unsigned)dovecot->owner,
                    (unsigned)dovecot->group, root, dovecot->port);
    if (geteuid() != 0) {
        const struct passwd *self = getpwuid(geteuid());
        g_assert_nonnull(self);
        g_string_append_printf(text,
                               "default_login_user = %s\ndefault_internal_user = %s\n"
                               "default_internal_group =\n",
                               self->pw_name, self->pw_name);
    }
    g_assert_true(g_file_set_contents(path, text->str, -1, NULL));
}

Dovecot *dovecot_new(int port, const char *password)
{
    Dovecot *dovecot = g_new0(Dovecot, 1);
    const struct passwd *owner = geteuid() == 0 ? getpwnam("nobody") : getpwuid(geteuid());

    g_assert_nonnull(owner);
    dovecot->root = g_dir_make_tmp("osier-dovecot-XXXXXX", NULL);
    g_assert_nonnull(dovecot->root);
    g_assert_cmpint(g_chmod(dovecot->root, 0755), ==, 0);
    dovecot->maildir = g_build_filename(dovecot->root, "mail", NULL);
    dovecot->port = port;
    dovecot->owner = owner->pw_uid;
    dovecot->group = owner->pw_gid;
    make_folder(dovecot, "");
    make_folder(dovecot, "tmp");
    make_folder(dovecot, "new");
    make_folder(dovecot, "cur");
    write_settings(dovecot, password);
    return dovecot;
}

void dovecot_free(Dovecot *dovecot)
{
    if (dovecot->pid != 0) dovecot_stop(dovecot);
    folder_remove(dovecot->root);
    g_free(dovecot->maildir);
    g_free(dovecot);
}

const char *dovecot_maildir(const Dovecot *dovecot)
{
    return dovecot->maildir;
}

static bool greets(int port)
{
    const struct timeval patience = {.tv_sec = 5};
    struct sockaddr_in at = {.sin_family = AF_INET,
                             .sin_port = htons((uint16_t)port),
                             .sin_addr.s_addr = htonl(INADDR_LOOPBACK)};
    char line[4] = "";
    int fd = socket(AF_INET, SOCK_STREAM | SOCK_CLOEXEC, 0);

    setsockopt(fd, SOL_SOCKET, SO_RCVTIMEO, &patience, sizeof patience);
    bool yes = connect(fd, (struct sockaddr *)&at, sizeof at) == 0 &&
               recv(fd, line, sizeof line, MSG_WAITALL) == sizeof line &&
               memcmp(line, "* OK", 4) == 0;
    close(fd);
    return yes;
}

/* A test that aborts takes it along. */
static void in_child(void *unused)
{
    (void)unused;
    prctl(PR_SET_PDEATHSIG, SIGTERM);
}

void dovecot_start(Dovecot *dovecot)
{
    g_autofree char *settings = g_build_filename(dovecot->root, "dovecot.conf", NULL);
    char *words[] = {(char *)PROGRAM, (char *)"-F", (char *)"-c", settings, NULL};
    GError *error = NULL;

    g_assert_cmpint(dovecot->pid, ==, 0);
    g_spawn_async(dovecot->root, words, NULL, G_SPAWN_DO_NOT_REAP_CHILD, in_child, NULL,
                  &dovecot->pid, &error);
    g_assert_no_error(error);
    for (int tries = 0; !greets(dovecot->port); tries++) {
        g_assert_cmpint(tries, <, 500);
        g_assert_cmpint(waitpid(dovecot->pid, NULL, WNOHANG), ==, 0);
        g_usleep(20000);
    }
}

void dovecot_stop(Dovecot *dovecot)
{
    g_assert_cmpint(kill(dovecot->pid, SIGTERM), ==, 0);
    g_assert_cmpint(waitpid(dovecot->pid, NULL, 0), ==, dovecot->pid);
    dovecot->pid = 0;
}

void dovecot_deliver(Dovecot *dovecot, const char *mail)
{
    g_autofree char *name = g_strdup_printf("1772438400.M%dP1.test", ++dovecot->delivered);
    g_autofree char *made = g_build_filename(dovecot->maildir, "tmp", name, NULL);
    g_autofree char *there = g_build_filename(dovecot->maildir, "new", name, NULL);

    g_assert_true(g_file_set_contents(made, mail, -1, NULL));
    g_assert_cmpint(chown(made, dovecot->owner, dovecot->group), ==, 0);
    g_assert_cmpint(g_rename(made, there), ==, 0);
}

void dovecot_renumber(Dovecot *dovecot)
{
    g_autoptr(GDir) folder = g_dir_open(dovecot->maildir, 0, NULL);

    g_assert_cmpint(dovecot->pid, ==, 0);
    for (const char *name; (name = g_dir_read_name(folder)) != NULL;) {
        g_autofree char *path = g_build_filename(dovecot->maildir, name, NULL);
        if (g_str_has_prefix(name, "dovecot")) g_assert_cmpint(g_unlink(path), ==, 0);
    }
}

int dovecot_seen(Dovecot *dovecot)
{
    g_autofree char *path = g_build_filename(dovecot->maildir, "cur", NULL);
    g_autoptr(GDir) folder = g_dir_open(path, 0, NULL);
    int seen = 0;

    for (const char *name; (name = g_dir_read_name(folder)) != NULL;) {
        const char *flags = strstr(name, ":2,");
        if (flags != NULL && strchr(flags, 'S') != NULL) seen++;
    }
    return seen;
}
