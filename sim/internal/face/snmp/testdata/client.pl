# A manager on Net::SNMP, an implementation of the protocol that is independent of
# net-snmp's: reads, walks in two ways, writes, and is refused.
#
#   perl client.pl HOST PORT 1|2c COMMUNITY
#   perl client.pl HOST PORT 3 USER [AUTH PASSWORD [PRIV PASSWORD]]
use strict;
use warnings;
use Net::SNMP qw(:asn1 :snmp oid_lex_sort);

my ($host, $port, $version, $name, $auth, $auth_word, $priv, $priv_word) = @ARGV;
my %who = $version eq '3' ? (-username => $name) : (-community => $name);
$who{-authprotocol} = $auth      if defined $auth;
$who{-authpassword} = $auth_word if defined $auth_word;
$who{-privprotocol} = $priv      if defined $priv;
$who{-privpassword} = $priv_word if defined $priv_word;

my ($session, $error) = Net::SNMP->session(
    -hostname => $host, -port => $port, -version => $version, -timeout => 10, -retries => 0, -translate => 0, %who,
);
die "session: $error\n" unless defined $session;

sub ask {
    my ($what, $result) = @_;
    die "$what: " . $session->error() . "\n" unless defined $result;
    return $result;
}

my $volts = '1.3.6.1.2.1.33.1.2.5.0';
print 'get ', ask('get', $session->get_request(-varbindlist => [$volts]))->{$volts}, "\n";

my $next = ask('next', $session->get_next_request(-varbindlist => ['1.3.6.1.2.1.1.1.0']));
print 'next ', (keys %$next)[0], "\n";

# One row at a time, and in SNMPv2c and SNMPv3 many.
my $at = '1.3.6.1';
while (my $row = $session->get_next_request(-varbindlist => [$at])) {    # SNMPv1 ends with noSuchName
    my ($found) = keys %$row;
    last if $session->var_bind_types()->{$found} == ENDOFMIBVIEW;
    print "walk $found\n";
    $at = $found;
}

if ($version ne '1') {
    my $table = ask('table', $session->get_table(-baseoid => '1.3.6.1.2.1.33', -maxrepetitions => 20));
    print "table $_\n" for oid_lex_sort(keys %$table);
}

my $contact = '1.3.6.1.2.1.1.4.0';
ask('set', $session->set_request(-varbindlist => [$contact, OCTET_STRING, 'new']));
print "set\n";

my $refused = $session->set_request(-varbindlist => [$contact, INTEGER, 1]);
die "an integer was taken for a contact\n" if defined $refused;
print 'refused ', $session->error_status(), ' ', $session->error_index(), "\n";
$session->close();
